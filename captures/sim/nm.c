/* SPDX-License-Identifier: MIT */
#include "nm.h"

#include <string.h>

void sim_nm_init(struct sim_nm *nm)
{
	nm->mute_from = nm->dead_from = nm->deaf_from = nm->deaf_until = SIM_NEVER;
	nm->t_app = nm->t_decide = SIM_NEVER;
	sim_nm_stop_timers(nm);
}

void sim_nm_stop_timers(struct sim_nm *nm)
{
	nm->t_send = nm->t_repeat = nm->t_timeout = nm->t_wait = SIM_NEVER;
	nm->t_typ = nm->t_max = nm->t_error = SIM_NEVER;
}

/* A main function that runs every so often sees it up to a tick later. */
int64_t sim_nm_after(struct sim_nm_bus *bus, int64_t time)
{
	int64_t tick_us = bus->config.tick / NOD_NS_PER_US;

	return bus->now + time + sim_random_range(bus->random, 0, tick_us) * NOD_NS_PER_US;
}

/* On: soon, with what the unit has to say first. */
void sim_nm_application(struct sim_nm_bus *bus, int i, bool on)
{
	struct sim_nm *nm = bus->nodes[i];

	if (on && !nm->application && nm->t_app == SIM_NEVER)
		nm->t_app = bus->now + bus->config.first_application;
	if (on)
		return;
	nm->t_app = SIM_NEVER;
	nm->application = false;
	bus->application(bus, i, false);
}

static const struct sim_nm_machine *machine(const struct sim_nm_bus *bus)
{
	return bus->config.scheme == NOD_NM_OSEK ? &sim_nm_osek : &sim_nm_cannm;
}

void sim_nm_start(struct sim_nm_bus *bus, int i, bool active)
{
	struct sim_nm *nm = bus->nodes[i];
	bool takes_time = !nm->wants && bus->config.decide;

	sim_nm_stop_timers(nm);
	nm->active = active;
	nm->ready_said = !nm->wants && !takes_time;
	nm->t_decide = takes_time ? bus->now + bus->config.decide : SIM_NEVER;
	if (!sim_nm_dead(bus, i)) {
		machine(bus)->start(bus, i);
		return;
	}
	nm->state = SIM_NORMAL;
	sim_nm_application(bus, i, true);
}

void sim_nm_wish(struct sim_nm_bus *bus, int i, bool wants)
{
	struct sim_nm *nm = bus->nodes[i];

	nm->wants = wants;
	if (sim_nm_dead(bus, i) || !sim_state_awake(nm->state))
		return;
	machine(bus)->wish(bus, i);
	if (nm->lets_go && !wants)
		sim_nm_application(bus, i, false);
	else if (nm->lets_go)
		sim_nm_application(bus, i, true);
}

bool sim_nm_concerns(const struct sim_nm_bus *bus, int i, const uint8_t data[8])
{
	int first = bus->config.partial_first;

	return first < 0 || !bus->nodes[i]->partial ||
	       bus->nodes[i]->partial & (data[first] | data[first + 1] << 8);
}

void sim_nm_hear(struct sim_nm_bus *bus, int i, int from, const uint8_t data[8])
{
	const struct sim_nm *nm = bus->nodes[i];
	bool deaf = bus->now >= nm->deaf_from && bus->now < nm->deaf_until;

	if (!deaf && !sim_nm_dead(bus, i) && sim_state_awake(nm->state) &&
	    sim_nm_concerns(bus, i, data))
		machine(bus)->hear(bus, i, from, data);
}

static int64_t least(int64_t a, int64_t b)
{
	return a < b ? a : b;
}

int64_t sim_nm_next(const struct sim_nm *nm)
{
	int64_t protocol = least(least(nm->t_send, nm->t_repeat), least(nm->t_timeout, nm->t_wait));
	int64_t ring = least(least(nm->t_typ, nm->t_max), nm->t_error);

	return least(least(protocol, ring), least(nm->t_app, nm->t_decide));
}

void sim_nm_due(struct sim_nm_bus *bus, int i)
{
	struct sim_nm *nm = bus->nodes[i];

	if (bus->now >= nm->t_app) {
		nm->t_app = SIM_NEVER;
		nm->application = true;
		bus->application(bus, i, true);
	}
	if (sim_nm_dead(bus, i)) {
		sim_nm_stop_timers(nm);
		nm->t_decide = SIM_NEVER;
		return;
	}
	if (bus->now >= nm->t_decide) {
		nm->t_decide = SIM_NEVER;
		nm->ready_said = !nm->wants;
	}
	machine(bus)->due(bus, i);
}

void sim_nm_bus_off(struct sim_nm_bus *bus, int i)
{
	struct sim_nm *nm = bus->nodes[i];

	if (nm->state < SIM_RING)
		return;
	sim_nm_stop_timers(nm);
	nm->state = SIM_BUS_OFF;
	nm->t_error = bus->now + sim_random_range(bus->random, 50, 800) * NOD_NS_PER_MS;
}
