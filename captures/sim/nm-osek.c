/* SPDX-License-Identifier: MIT */
/* OSEK/VDX direct NM 2.5.3, one machine a node. Opcodes, timers and the way to sleep as an
 * open stack has them (ssas-public, OsekNm.c; it gives "nm253 4.4.5.3.1 P103" for the ring
 * data); the states of chapter 4.4 (NMReset, NMNormal, NMLimpHome, NMTwbsNormal, ...), limp
 * home and what a ring message for others does are from memory of that version. */
#include <string.h>

#include "nm.h"

enum { ALIVE = 1, RINGED = 2, LIMPS = 4, INDICATION = 0x10, ACKNOWLEDGE = 0x20 };

static void say(struct sim_nm_bus *bus, int i, int to, unsigned opcode)
{
	uint8_t data[8];

	memset(data, bus->config.fill, sizeof(data));
	if (bus->config.moves)
		data[bus->config.length - 1] = bus->nodes[i]->moving++;
	data[0] = bus->nodes[to]->address;
	data[1] = (uint8_t)opcode;
	bus->send(bus, i, data);
}

static void say_alive(struct sim_nm_bus *bus, int i)
{
	bool indicates = bus->nodes[i]->ready_said && bus->config.alive_indicates;

	say(bus, i, i, ALIVE | (indicates ? INDICATION : 0));
}

static void limp(struct sim_nm_bus *bus, struct sim_nm *nm)
{
	sim_nm_stop_timers(nm);
	nm->state = SIM_LIMP;
	nm->t_error = sim_nm_after(bus, bus->config.error);
}

/* NMReset. */
static void reset(struct sim_nm_bus *bus, int i)
{
	struct sim_nm *nm = bus->nodes[i];

	sim_nm_stop_timers(nm);
	nm->members = UINT64_C(1) << i;
	if (++nm->rx_count > bus->config.rx_limit) {
		limp(bus, nm);
		return;
	}
	nm->state = SIM_RING;
	nm->t_send = bus->now +
		     (nm->active ? 0 : sim_random_range(bus->random, 0, 8) * NOD_NS_PER_MS);
	sim_nm_application(bus, i, true);
}

static void start(struct sim_nm_bus *bus, int i)
{
	bus->nodes[i]->rx_count = 0;
	reset(bus, i);
	bus->nodes[i]->active = false;
}

/* A wish is told to the management at once; that there is none any more, after
 * the time in which the application decides. */
static void wish(struct sim_nm_bus *bus, int i)
{
	struct sim_nm *nm = bus->nodes[i];

	nm->t_decide = SIM_NEVER;
	nm->ready_said = !nm->wants;
	if (!nm->wants)
		return;
	if (nm->state == SIM_TWBS)
		reset(bus, i);
	else if (nm->state == SIM_RING_READY)
		nm->state = SIM_RING;
	else if (nm->state == SIM_LIMP_TWBS || nm->state == SIM_LIMP_READY)
		limp(bus, nm);
}

static int successor(const struct sim_nm_bus *bus, int i)
{
	for (int step = 1; step <= bus->count; step++) {
		int k = (i + step) % bus->count;
		if (bus->nodes[i]->members >> k & 1)
			return k;
	}
	return i;
}

/* Whether i stands between from and to in the ring's order. */
static bool is_skipped(int i, int from, int to)
{
	return from < to ? i > from && i < to : i > from || i < to;
}

static void go_offline(struct sim_nm_bus *bus, int i, enum sim_state state)
{
	struct sim_nm *nm = bus->nodes[i];

	sim_nm_stop_timers(nm);
	nm->state = state;
	nm->t_wait = sim_nm_after(bus, bus->config.wait);
	sim_nm_application(bus, i, false);
}

static void hear_ring(struct sim_nm_bus *bus, int i, int from, const uint8_t data[8])
{
	struct sim_nm *nm = bus->nodes[i];

	nm->t_typ = nm->t_max = SIM_NEVER;
	if (data[1] & ACKNOWLEDGE && nm->ready_said && nm->state == SIM_RING_READY) {
		go_offline(bus, i, SIM_TWBS);
		return;
	}
	if (data[0] == nm->address || data[0] == bus->nodes[from]->address) {
		nm->t_typ = sim_nm_after(bus, bus->config.typ);
		return;
	}
	for (int to = 0; to < bus->count; to++)
		if (bus->nodes[to]->address == data[0] && is_skipped(i, from, to))
			say_alive(bus, i);
	nm->t_max = sim_nm_after(bus, bus->config.max);
}

static void hear(struct sim_nm_bus *bus, int i, int from, const uint8_t data[8])
{
	struct sim_nm *nm = bus->nodes[i];
	bool wanted = !(data[1] & INDICATION);

	if (nm->state < SIM_RING || nm->state == SIM_BUS_OFF)
		return;
	nm->rx_count = 0;
	if (nm->state == SIM_TWBS || nm->state == SIM_LIMP_TWBS) {
		if (wanted)
			reset(bus, i);
		return;
	}
	if (nm->state == SIM_LIMP || nm->state == SIM_LIMP_READY) {
		reset(bus, i);
		return;
	}
	if (wanted && nm->state == SIM_RING_READY)
		nm->state = SIM_RING;
	if (data[1] & LIMPS)
		return;
	nm->members |= UINT64_C(1) << from;
	if (data[1] & RINGED)
		hear_ring(bus, i, from, data);
}

static void turn(struct sim_nm_bus *bus, int i)
{
	struct sim_nm *nm = bus->nodes[i];
	unsigned opcode = RINGED | (nm->ready_said ? INDICATION : 0);

	nm->t_typ = SIM_NEVER;
	nm->t_max = sim_nm_after(bus, bus->config.max);
	if (nm->ready_said && nm->state == SIM_RING_READY) { /* a whole turn, and all indicated */
		say(bus, i, successor(bus, i), opcode | ACKNOWLEDGE);
		go_offline(bus, i, SIM_TWBS);
		return;
	}
	if (nm->ready_said)
		nm->state = SIM_RING_READY;
	if (nm->lets_go && nm->ready_said)
		sim_nm_application(bus, i, false);
	say(bus, i, successor(bus, i), opcode);
}

static void error_due(struct sim_nm_bus *bus, int i)
{
	struct sim_nm *nm = bus->nodes[i];

	if (nm->state == SIM_BUS_OFF) {
		limp(bus, nm);
		return;
	}
	say(bus, i, i, LIMPS | (nm->ready_said ? INDICATION : 0));
	sim_nm_application(bus, i, true);
	nm->t_error = SIM_NEVER;
	if (nm->ready_said) {
		nm->state = SIM_LIMP_READY;
		nm->t_max = sim_nm_after(bus, bus->config.max);
	} else {
		nm->t_error = sim_nm_after(bus, bus->config.error);
	}
}

static void due(struct sim_nm_bus *bus, int i)
{
	struct sim_nm *nm = bus->nodes[i];

	if (bus->now >= nm->t_send) {
		nm->t_send = SIM_NEVER;
		say_alive(bus, i);
		nm->t_typ = sim_nm_after(bus, bus->config.typ);
	} else if (bus->now >= nm->t_typ) {
		turn(bus, i);
	} else if (bus->now >= nm->t_max) {
		if (nm->state == SIM_LIMP_READY)
			go_offline(bus, i, SIM_LIMP_TWBS);
		else
			reset(bus, i);
	} else if (bus->now >= nm->t_error) {
		error_due(bus, i);
	} else if (bus->now >= nm->t_wait) {
		sim_nm_stop_timers(nm);
		nm->state = SIM_ASLEEP;
	}
}

const struct sim_nm_machine sim_nm_osek = {start, wish, hear, due};
