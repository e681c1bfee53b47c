/* SPDX-License-Identifier: MIT */
/* What concerns a module as a whole: its power, its current, its reasons. */
#include "node.h"

void sim_module_load(struct sim *sim, int m)
{
	struct sim_module *module = &sim->modules[m];
	bool awake = false;
	int64_t load = 0;

	for (int i = 0; i < module->node_count; i++)
		awake |= sim->nodes[module->first_node + i].state > SIM_ASLEEP;
	if (module->powered) {
		load = awake ? module->awake_ua : module->asleep_ua;
		if (sim->now < module->extra_until && load < module->extra_ua)
			load = module->extra_ua;
	}
	sim->load_ua += load - module->load_ua;
	module->load_ua = load;
}

void sim_module_need(struct sim *sim, int m, int64_t until)
{
	const struct sim_module *module = &sim->modules[m];

	for (int i = 0; i < module->node_count; i++)
		sim_node_need(sim, module->first_node + i, until);
}

void sim_module_hold(struct sim *sim, int m, bool held)
{
	const struct sim_module *module = &sim->modules[m];

	for (int i = 0; i < module->node_count; i++) {
		sim->nodes[module->first_node + i].held = held;
		sim_node_review(sim, module->first_node + i);
	}
}

static bool has_power(const struct sim *sim, const struct sim_module *module)
{
	if (module->unplugged)
		return false;
	for (int k = 0; k < 2; k++)
		if (module->fuses[k] >= 0 && sim->fuses[module->fuses[k]].fitted)
			return true;
	return module->fuses[0] < 0;
}

/* A screen or radio that got its power back starts up in full and looks for
 * its data carriers: about 800 mA for about half an hour were published for a
 * navigation unit. */
static void start_up_in_full(struct sim *sim, int m)
{
	struct sim_module *module = &sim->modules[m];

	module->extra_ua = sim_random_range(&sim->course, 240, 800) * 1000;
	module->extra_until = sim->now + sim_random_range(&sim->course, 20, 35) * SIM_MIN;
	sim_timers_push(&sim->timers, module->extra_until, SIM_TIMER_EXTRA, m, 0);
	sim_module_need(sim, m, sim->now + sim_random_range(&sim->course, 30, 200) * SIM_S);
}

void sim_module_power(struct sim *sim, int m)
{
	struct sim_module *module = &sim->modules[m];
	bool on = has_power(sim, module);

	if (on == module->powered)
		return;
	module->powered = on;
	for (int i = 0; i < module->node_count; i++)
		sim_node_power(sim, module->first_node + i, on);
	if (on && module->tags & SIM_TAG_INFOTAINMENT)
		start_up_in_full(sim, m);
	for (int i = 0; on && i < module->node_count; i++)
		sim_node_review(sim, module->first_node + i);
	sim_module_load(sim, m);
}
