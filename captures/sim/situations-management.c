/* SPDX-License-Identifier: MIT */
/* What network management does where nodes fail (the machines: nm.h), beside a holder or as
 * what keeps the network awake. */
#include "stage.h"

static struct sim_node *node_of(struct sim *sim, int module)
{
	return &sim->nodes[sim->modules[module].first_node];
}

/* Its management has died, its application talks on: the others fall asleep, and its frames
 * wake them again and again. */
void sim_lay_management_dead(struct sim *sim, int network)
{
	sim_lay_holder(sim, network);
	sim->fault_count = 0;
	node_of(sim, sim->story.culprits[0])->nm.dead_from = sim->lock;
	sim->story.determined = true;
	sim_stage_why(sim, "it alone goes on talking while the others on %s have fallen silent",
		      sim->networks[network].name);
	sim_stage_note(sim, "its network management no longer runs; its frames wake the others");
}

/* An innocent that something happens to, -1: the network has no other. */
static int beside(struct sim *sim, int network)
{
	sim_lay_holder(sim, network);
	return sim_stage_pick(sim, network);
}

/* OSEK: a released node hears nobody and limps (NMLimpHome). */
void sim_lay_limp_beside(struct sim *sim, int network)
{
	int module = beside(sim, network);

	if (module < 0)
		return;
	node_of(sim, module)->nm.deaf_from = sim->lock;
	sim_stage_note(sim, "%s is in limp home beside it", sim->modules[module].name);
}

static void happen(struct sim *sim, enum sim_fault_kind kind, int module, int64_t for_s)
{
	int64_t from = sim_stage_deadline(sim) - sim_stage_seconds(sim, 5, 30);

	if (module < 0 || sim->fault_count == SIM_FAULTS)
		return;
	sim->faults[sim->fault_count++] = (struct sim_fault){
		.kind = kind, .module = module, .from = from, .until = from + for_s * SIM_S};
}

/* OSEK: another's controller leaves the bus (NMBusOff) and comes back by limp home. */
void sim_lay_bus_off(struct sim *sim, int network)
{
	int module = beside(sim, network);

	happen(sim, SIM_FAULT_BUS_OFF, module, 0);
	sim_stage_note(sim, "another unit is off the bus for a moment");
}

/* Another loses its power for some seconds, and joins in again late. */
void sim_lay_restarts(struct sim *sim, int network)
{
	int module = beside(sim, network);

	happen(sim, SIM_FAULT_RESTART, module, sim_random_range(&sim->course, 2, 40));
	sim_stage_note(sim, "another unit restarts and joins in late");
}

/* The gateway is a coordinator: it asks for as long as anybody does, and says when all its
 * networks are ready. */
void sim_lay_coordinator(struct sim *sim, int network)
{
	const struct sim_module *gateway = &sim->modules[sim->gateway];

	sim_lay_spread(sim, network);
	for (int i = 0; i < gateway->node_count; i++)
		sim->nodes[gateway->first_node + i].nm.coordinates = true;
}
