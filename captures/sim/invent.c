/* SPDX-License-Identifier: MIT */
#include "invent.h"

#include <string.h>

#include "names.h"

static int64_t pick_ms(struct sim_random *random, const int *choices, size_t count)
{
	return choices[sim_random_range(random, 0, (int64_t)count - 1)] * SIM_MS;
}

#define PICK_MS(random, ...)                        \
	pick_ms(random, (const int[]){__VA_ARGS__}, \
		sizeof((const int[]){__VA_ARGS__}) / sizeof(int))

/* Sets as published for AUTOSAR CanNm (a test article: 500 ms, 20 ms x 5,
 * 1500, 2000, 5000; an open stack's configuration: 1000 ms, 100 ms x 10, 2000,
 * 2000, 5000; a stack manual: timeout 3000, wait 1500; a test script: 1000,
 * 750), and mixtures of them. */
static void invent_autosar(struct sim *sim, struct sim_network *net)
{
	struct sim_random *random = &sim->invent;
	struct sim_nm_timers *t = &net->timers;

	t->cycle = PICK_MS(random, 200, 500, 500, 640, 1000);
	t->immediate_cycle = PICK_MS(random, 20, 20, 50, 100);
	t->immediate = (unsigned)sim_random_range(random, 2, 10);
	t->repeat = PICK_MS(random, 1500, 1600, 2000, 3200);
	t->timeout = PICK_MS(random, 1000, 2000, 2000, 3000);
	if (t->timeout <= t->cycle + 300 * SIM_MS)
		t->timeout = 2 * t->cycle;
	t->wait_bus_sleep = PICK_MS(random, 750, 1500, 5000, 5000);
	t->first_application = PICK_MS(random, 5, 20, 20, 50);
	net->node_byte = sim_random_chance(random, 80) ? 0 : 1;
	net->control_byte = net->node_byte == 0 ? 1 : 0;
	net->repeat_request = sim_random_chance(random, 30);
	net->fill = sim_random_chance(random, 60) ? 0xFF : 0;
	net->nm_length = (uint8_t)(sim_random_chance(random, 80) ? 8
								 : sim_random_range(random, 3, 7));
}

/* TTyp, TMax, TError, TWaitBusSleep: an open stack's configuration (1000, 1500,
 * 1000, 5000), one maker's units as measured (45, 140, 500), and between. */
static void invent_osek(struct sim *sim, struct sim_network *net)
{
	static const int sets[][4] = {{1000, 1500, 1000, 5000},
				      {45, 140, 500, 1500},
				      {200, 500, 1000, 3000},
				      {300, 700, 1000, 2000}};
	const int *set = sets[sim_random_range(&sim->invent, sim->small ? 2 : 0, 3)];

	net->timers.typ = set[0] * SIM_MS;
	net->timers.max = set[1] * SIM_MS;
	net->timers.error = set[2] * SIM_MS;
	net->timers.wait_bus_sleep = set[3] * SIM_MS;
	net->timers.first_application = 20 * SIM_MS;
	net->fill = 0;
}

static uint32_t pick_nm_base(struct sim *sim, const struct sim_network *net, int index)
{
	static const uint32_t bases[SIM_NETWORKS][4] = {{0x400, 0x500, 0x600, 0x680},
							{0x440, 0x540, 0x640, 0x6C0},
							{0x480, 0x580, 0x5C0, 0x4C0}};
	uint32_t base = bases[index][sim_random_range(&sim->invent, 0, 3)];

	if (net->extended)
		return (0x1B000000 + (base << 4)) | NOD_ID_EXTENDED;
	return base;
}

static void invent_scheme(struct sim *sim, struct sim_network *net, const struct sim_wish *wish)
{
	struct sim_random *random = &sim->invent;
	int64_t draw = sim_random_range(random, 0, 99);

	net->scheme = draw < 45 ? NOD_NM_AUTOSAR : draw < 65 ? NOD_NM_OSEK : NOD_NM_NONE;
	if (wish && wish->scheme >= 0)
		net->scheme = (enum nod_nm_scheme)wish->scheme;
	net->follow = (enum sim_follow)sim_random_range(random, 0, 2);
	if (wish && wish->follow >= 0)
		net->follow = (enum sim_follow)wish->follow;
	if (net->scheme == NOD_NM_J1939)
		net->follow = SIM_FOLLOW_TIMER;
	net->partial_first = -1;
	net->extended = net->scheme == NOD_NM_J1939 ||
			(net->scheme != NOD_NM_OSEK && sim_random_chance(random, 15));
	if (net->scheme == NOD_NM_AUTOSAR)
		invent_autosar(sim, net);
	else if (net->scheme == NOD_NM_OSEK)
		invent_osek(sim, net);
	if (wish && wish->partial) {
		net->partial_first = 4;
		net->nm_length = 8;
	}
}

static void invent_limits(struct sim *sim, struct sim_network *net)
{
	struct sim_random *random = &sim->invent;

	net->bitrate = (const uint32_t[]){125000, 250000, 500000,
					  500000}[sim_random_range(random, 0, 3)];
	if (net->scheme == NOD_NM_J1939)
		net->bitrate = 250000;
	net->fd = net->bitrate == 500000 && !sim->truck && sim_random_chance(random, 15);
	net->management_given = sim_random_chance(random, 70);
	net->quiet_time_given = sim_random_chance(random, 60);
	net->quiet_time = sim_random_range(random, 3, 5) * SIM_S;
	net->master = -1;
	net->last_frame = INT64_MIN / 4;
}

void sim_invent_networks(struct sim *sim, const struct sim_wish *wish, int concerned)
{
	static const char *const names[SIM_NETWORKS] = {"body", "drive", "media"};
	bool vcan = sim_random_chance(&sim->invent, 15);

	sim->sleeps_within = sim->small ? 2 * SIM_MIN
					: sim_random_spread(&sim->invent, 3, 40) * SIM_MIN;
	sim->sleeps_within_given = sim->small || sim_random_chance(&sim->invent, 94);
	if (!sim->sleeps_within_given)
		sim->sleeps_within = NOD_DEFAULT_SLEEPS_WITHIN_S * SIM_S;

	for (int i = 0; i < sim->network_count; i++) {
		struct sim_network *net = &sim->networks[i];
		char *end = stpcpy(net->interface, vcan ? "vcan" : "can");
		*end = (char)('0' + i);
		strcpy(net->name, sim->truck ? (i ? "cab" : "vehicle") : names[i]);
		invent_scheme(sim, net, i == concerned || sim->truck ? wish : NULL);
		net->nm_base = pick_nm_base(sim, net, i);
		net->nm_span = 64;
		invent_limits(sim, net);
	}
}

static void invent_title(struct sim *sim)
{
	static const char *const kinds[] = {"Hatchback", "Estate", "Saloon",
					    "Van",       "Coupe",  "Minibus"};

	strcpy(sim->title, sim->truck ? "Truck" : kinds[sim_random_range(&sim->invent, 0, 5)]);
}

int sim_invent(struct sim *sim, const struct sim_wish *wish)
{
	sim->truck = wish->truck;
	invent_title(sim);
	sim->network_count = wish->truck || sim->small
				     ? (int)sim_random_range(&sim->invent, 1 + !wish->truck, 2)
				     : (int)sim_random_range(&sim->invent, 2, 3);
	if (wish->hidden)
		sim->network_count = 2 + (sim->network_count == 3);
	int concerned = (int)sim_random_range(&sim->invent, 0, sim->network_count - 1);
	sim_invent_networks(sim, wish, concerned);
	sim_invent_modules(sim, wish);
	sim_invent_fuses(sim);
	sim_invent_messages(sim);
	return concerned;
}
