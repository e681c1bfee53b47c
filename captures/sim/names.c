/* SPDX-License-Identifier: MIT */
#include "names.h"

#include "sim.h"

#define BODY SIM_REALM_BODY
#define DRIVE SIM_REALM_DRIVE
#define MEDIA SIM_REALM_MEDIA

/* Currents awake: invented, of the order found on bench supplies (common
 * practice, no source). The first two entries are in every car. */
/* clang-format off */
const struct sim_role sim_car_roles[] = {
	{"gateway", "behind the glove box", {0}, BODY, SIM_TAG_GATEWAY, 60, 150, -1},
	{"body control unit", "left foot well", {"bonnet switch", "hazard switch"}, BODY,
	 SIM_TAG_ENTRY | SIM_TAG_BODY_MASTER, 150, 450, -1},
	{"door module left front", "in the left front door",
	 {"left front window switch", "left front lock switch", "left mirror switch"}, BODY,
	 SIM_TAG_ENTRY, 60, 180, -1},
	{"door module right front", "in the right front door",
	 {"right front window switch", "right front lock switch"}, BODY, SIM_TAG_ENTRY, 60, 180, -1},
	{"door module left rear", "in the left rear door", {"left rear window switch"}, BODY,
	 SIM_TAG_ENTRY, 40, 120, -1},
	{"door module right rear", "in the right rear door", {"right rear window switch"}, BODY,
	 SIM_TAG_ENTRY, 40, 120, -1},
	{"seat module driver", "under the driver's seat", {"seat switch", "belt buckle"}, BODY,
	 SIM_TAG_MEMORY, 50, 160, -1},
	{"seat module passenger", "under the passenger's seat", {"seat mat"}, BODY, 0, 50, 160,
	 -1},
	{"roof unit", "above the mirror", {"reading lamp switch", "sunroof switch"}, BODY, 0, 40,
	 150, -1},
	{"tailgate drive", "left of the tailgate", {"tailgate switch", "tailgate latch"}, BODY,
	 SIM_TAG_ENTRY, 60, 200, -1},
	{"trailer module", "behind the left boot trim", {"trailer socket switch"}, BODY, 0, 30,
	 120, -1},
	{"climate unit", "centre console", {"blower switch"}, BODY, 0, 80, 300, -1},
	{"rear climate panel", "rear centre console", {"rear blower switch"}, BODY, 0, 30, 90, -1},
	{"keyless entry unit", "behind the rear bench", {"key pocket switch"}, BODY, SIM_TAG_ENTRY, 50,
	 160, -1},
	{"immobiliser unit", "steering column", {"start button"}, BODY, SIM_TAG_ENTRY, 30, 90, -1},
	{"alarm unit", "in the roof lining", {"interior sensor"}, BODY, SIM_TAG_ALARM, 20, 80, -1},
	{"steering column module", "steering column", {"column stalk", "ignition switch"}, BODY, 0,
	 60, 180, -1},
	{"light module left", "left headlamp", {0}, BODY, 0, 60, 250, -1},
	{"light module right", "right headlamp", {0}, BODY, 0, 60, 250, -1},
	{"rain and light sensor", "at the windscreen", {"rain sensor"}, BODY, 0, 15, 50, -1},
	{"wiper module", "in the scuttle", {"park switch"}, BODY, 0, 30, 120, -1},
	{"battery monitor", "on the battery terminal", {0}, BODY, 0, 10, 30, -1},
	{"seat heater unit", "under the driver's seat", {"heater switch"}, BODY, 0, 20, 80, -1},
	{"tyre pressure unit", "rear left wheel arch", {0}, BODY, 0, 20, 80, -1},
	{"auxiliary heater", "left front wing", {"heater timer"}, BODY, 0, 40, 200, -1},
	{"boot unit", "right boot trim", {"boot lamp switch"}, BODY, SIM_TAG_ENTRY, 40, 120, -1},
	{"engine control unit", "engine bay", {"pedal switch"}, DRIVE, 0, 200, 700, -1},
	{"gearbox control unit", "on the gearbox", {"selector switch"}, DRIVE, 0, 120, 400, -1},
	{"selector lever unit", "centre console", {"park position switch"}, DRIVE, 0, 40, 150, -1},
	{"brake control unit", "engine bay", {"brake switch"}, DRIVE, 0, 120, 400, -1},
	{"parking brake unit", "at the rear axle", {"parking brake switch"}, DRIVE, 0, 60, 200, -1},
	{"steering assist", "on the steering rack", {0}, DRIVE, 0, 100, 350, -1},
	{"suspension unit", "boot floor", {"level sensor"}, DRIVE, 0, 80, 260, -1},
	{"airbag unit", "under the centre console", {0}, DRIVE, SIM_TAG_AIRBAG, 80, 200, -1},
	{"front radar", "behind the bumper", {0}, DRIVE, 0, 120, 350, -1},
	{"all-wheel unit", "on the rear axle", {0}, DRIVE, 0, 60, 200, -1},
	{"charger", "under the rear bench", {"charge flap switch"}, DRIVE, SIM_TAG_HIGH_VOLTAGE,
	 80, 250, -1},
	{"traction battery manager", "under the floor", {0}, DRIVE, SIM_TAG_HIGH_VOLTAGE, 100, 300,
	 -1},
	{"instrument cluster", "dashboard", {"trip button"}, MEDIA, 0, 200, 600, -1},
	{"radio", "centre of the dashboard", {"radio knob"}, MEDIA, SIM_TAG_INFOTAINMENT, 250, 900,
	 -1},
	{"amplifier", "boot, right", {0}, MEDIA, SIM_TAG_INFOTAINMENT, 150, 600, -1},
	{"telematics unit", "under the rear shelf", {"emergency button"}, MEDIA,
	 SIM_TAG_TELEMATICS, 100, 240, -1},
	{"navigation unit", "glove box", {0}, MEDIA, SIM_TAG_INFOTAINMENT, 300, 800, -1},
	{"rear screen", "rear headrests", {"screen button"}, MEDIA, SIM_TAG_INFOTAINMENT, 120, 400,
	 -1},
	{"camera unit", "boot lid", {0}, MEDIA, 0, 80, 250, -1},
	{"parking aid", "boot, left", {"parking aid button"}, MEDIA, 0, 60, 200, -1},
	{"phone cradle", "centre armrest", {"cradle contact"}, MEDIA, 0, 40, 160, -1},
};
/* clang-format on */
const size_t sim_car_role_count = sizeof(sim_car_roles) / sizeof(sim_car_roles[0]);

/* Source addresses: the preferred addresses of J1939 for these functions. */
/* clang-format off */
const struct sim_role sim_truck_roles[] = {
	{"body controller", "cab bulkhead", {"cab door switch"}, BODY,
	 SIM_TAG_ENTRY | SIM_TAG_BODY_MASTER, 200, 600, 33},
	{"engine controller", "on the engine block", {0}, DRIVE, 0, 400, 1200, 0},
	{"transmission controller", "on the gearbox", {0}, DRIVE, 0, 200, 700, 3},
	{"brake controller", "frame, left", {"brake pedal switch"}, DRIVE, 0, 200, 500, 11},
	{"engine retarder", "on the engine", {0}, DRIVE, 0, 60, 200, 15},
	{"driveline retarder", "behind the gearbox", {0}, DRIVE, 0, 60, 200, 16},
	{"cruise controller", "cab", {"cruise switch"}, DRIVE, 0, 50, 150, 17},
	{"instrument cluster", "dashboard", {0}, BODY, 0, 300, 800, 23},
	{"trip recorder", "dashboard", {"drawer switch"}, BODY, 0, 80, 200, 24},
	{"climate controller", "cab", {"night heater switch"}, BODY, 0, 120, 400, 25},
	{"charging controller", "frame, right", {0}, DRIVE, 0, 40, 160, 26},
	{"vehicle security", "cab roof", {"cab motion sensor"}, BODY, SIM_TAG_ALARM, 30, 100, 29},
	{"electrical system", "battery box", {"master switch"}, BODY, 0, 80, 250, 30},
	{"management computer", "cab", {0}, BODY, SIM_TAG_TELEMATICS, 150, 400, 39},
	{"cab display", "dashboard", {0}, BODY, SIM_TAG_INFOTAINMENT, 200, 600, 40},
	{"axle suspension", "frame, rear", {"level remote"}, DRIVE, 0, 80, 250, 47},
	{"tyre pressure controller", "frame", {0}, DRIVE, 0, 40, 120, 51},
	{"auxiliary heater", "under the bunk", {"heater timer"}, BODY, 0, 60, 250, 68},
	{"cellular unit", "cab roof", {0}, BODY, SIM_TAG_TELEMATICS, 100, 240, 74},
	{"steering column unit", "steering column", {"stalk"}, BODY, 0, 60, 180, 77},
	{"parking brake controller", "frame, rear", {0}, DRIVE, 0, 60, 200, 80},
	{"aftertreatment intake", "exhaust", {0}, DRIVE, 0, 80, 250, 81},
	{"restraint unit", "cab tunnel", {0}, BODY, SIM_TAG_AIRBAG, 80, 200, 83},
};
/* clang-format on */
const size_t sim_truck_role_count = sizeof(sim_truck_roles) / sizeof(sim_truck_roles[0]);
