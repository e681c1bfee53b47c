/* SPDX-License-Identifier: MIT */
#include "j1939.h"

#include <stddef.h>

/* A PDU format below this carries a destination address. */
#define FIRST_BROADCAST_FORMAT 240

bool nod_j1939_decode(struct nod_j1939 *out, uint32_t id)
{
	uint8_t format = (uint8_t)(id >> 16), specific = (uint8_t)(id >> 8);

	if (!(id & NOD_ID_EXTENDED) || id & (NOD_ID_REMOTE | NOD_ID_ERROR))
		return false;
	bool broadcast = format >= FIRST_BROADCAST_FORMAT;
	*out = (struct nod_j1939){
		.pgn = (id >> 8 & 0x3FF00) | (broadcast ? specific : 0u),
		.priority = (uint8_t)(id >> 26 & 7),
		.source = (uint8_t)id,
		.destination = broadcast ? NOD_J1939_GLOBAL : specific,
	};
	return true;
}

static const char *const names[] = {
	"Engine #1",
	"Engine #2",
	"Turbocharger",
	"Transmission #1",
	"Transmission #2",
	"Shift Console - Primary",
	"Shift Console - Secondary",
	"Power TakeOff - Main or Rear",
	"Axle - Steering",
	"Axle - Drive #1",
	"Axle - Drive #2", /* 10 */
	"Brakes - System Controller",
	"Brakes - Steer Axle",
	"Brakes - Drive Axle #1",
	"Brakes - Drive Axle #2",
	"Retarder - Engine",
	"Retarder - Driveline",
	"Cruise Control",
	"Fuel System",
	"Steering Controller",
	"Suspension - Steer Axle", /* 20 */
	"Suspension - Drive Axle #1",
	"Suspension - Drive Axle #2",
	"Instrument Cluster #1",
	"Trip Recorder",
	"Climate Control #1",
	"Alternator/Electrical Charging System",
	"Aerodynamic Control",
	"Vehicle Navigation",
	"Vehicle Security",
	"Electrical System", /* 30 */
	"Starter System",
	"Tractor-Trailer Bridge #1",
	"Body Controller",
	"Auxiliary Valve or Engine Air System Valve Control",
	"Hitch Control",
	"Power TakeOff - Front or Secondary",
	"Off Vehicle Gateway",
	"Virtual Terminal",
	"Management Computer #1",
	"Cab Display #1", /* 40 */
	"Retarder, Exhaust, Engine #1",
	"Headway Controller",
	"On-Board Diagnostic Unit",
	"Retarder, Exhaust, Engine #2",
	"Endurance Braking System",
	"Hydraulic Pump Controller",
	"Suspension - System Controller #1",
	"Pneumatic - System Controller",
	"Cab Controller - Primary",
	"Cab Controller - Secondary", /* 50 */
	"Tire Pressure Controller",
	"Ignition Control Module #1",
	"Ignition Control Module #2",
	"Seat Control #1",
	"Lighting - Operator Controls",
	"Rear Axle Steering Controller #1",
	"Water Pump Controller",
	"Climate Control #2",
	"Transmission Display - Primary",
	"Transmission Display - Secondary", /* 60 */
	"Exhaust Emission Controller",
	"Vehicle Dynamic Stability Controller",
	"Oil Sensor",
	"Suspension - System Controller #2",
	"Information System Controller #1",
	"Ramp Control",
	"Clutch/Converter Unit",
	"Auxiliary Heater #1",
	"Auxiliary Heater #2",
	"Engine Valve Controller", /* 70 */
	"Chassis Controller #1",
	"Chassis Controller #2",
	"Propulsion Battery Charger",
	"Communications Unit, Cellular",
	"Communications Unit, Satellite",
	"Communications Unit, Radio",
	"Steering Column Unit",
	"Fan Drive Controller",
	"Seat Control #2",
	"Parking Brake Controller", /* 80 */
	"Aftertreatment #1 intake",
	"Aftertreatment #1 outlet",
	"Safety Restraint System",
	"Cab Display #2",
	"Diesel Particulate Filter Controller",
	"Aftertreatment #2 intake",
	"Aftertreatment #2 outlet",
	"Safety Restraint System #2",
	"Atmospheric Sensor",
};

static const char *const last_names[] = {
	"File Server/Printer", /* 248 */
	"Off Board Diagnostic-Service Tool #1",
	"Off Board Diagnostic-Service Tool #2",
	"On-Board Data Logger",
	"Experimental",
	"OEM",
	"Null address",
	"all units",
};

const char *nod_j1939_address_name(uint8_t address)
{
	if (address < sizeof(names) / sizeof(names[0]))
		return names[address];
	return address >= 248 ? last_names[address - 248] : NULL;
}

/* The first four as in include/linux/can/j1939.h or the vectors of its
 * documentation; the others are from memory of J1939-21, -71, -73. */
static const struct {
	uint32_t pgn;
	const char *name;
} pgns[] = {
	{0x0EA00, "request"},
	{0x0EE00, "address claimed"},
	{0x0FED8, "commanded address"},
	{0x0EC00, "transport, connection management"},
	{0x0EB00, "transport, data"},
	{0x0E800, "acknowledgement"},
	{0x0EF00, "proprietary A"},
	{0x00000, "torque/speed control"},
	{0x0F001, "brakes, electronic controller 1"},
	{0x0F002, "transmission, electronic controller 1"},
	{0x0F003, "engine, electronic controller 2"},
	{0x0F004, "engine, electronic controller 1"},
	{0x0F005, "transmission, electronic controller 2"},
	{0x0FE6C, "tachograph"},
	{0x0FEBF, "wheel speeds"},
	{0x0FEC1, "vehicle distance, high resolution"},
	{0x0FECA, "active trouble codes (DM1)"},
	{0x0FECB, "earlier trouble codes (DM2)"},
	{0x0FECE, "DM5"},
	{0x0FEDF, "engine, electronic controller 3"},
	{0x0FEE0, "vehicle distance"},
	{0x0FEE4, "shutdown"},
	{0x0FEE5, "engine hours"},
	{0x0FEE6, "time and date"},
	{0x0FEE9, "fuel consumed"},
	{0x0FEEC, "vehicle identification"},
	{0x0FEEE, "engine temperature 1"},
	{0x0FEEF, "engine fluids 1"},
	{0x0FEF1, "cruise control, vehicle speed"},
	{0x0FEF2, "fuel economy"},
	{0x0FEF5, "ambient conditions"},
	{0x0FEF6, "intake and exhaust conditions"},
	{0x0FEF7, "vehicle electrical power"},
	{0x0FEF8, "transmission fluids"},
	{0x0FEFA, "engine fluids 2"},
	{0x0FEFC, "dash display"},
};

const char *nod_j1939_pgn_name(uint32_t pgn)
{
	for (size_t i = 0; i < sizeof(pgns) / sizeof(pgns[0]); i++)
		if (pgns[i].pgn == pgn)
			return pgns[i].name;
	return NULL;
}
