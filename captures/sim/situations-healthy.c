/* SPDX-License-Identifier: MIT */
/* Cars with nothing wrong on their networks. */
#include "stage.h"

void sim_lay_healthy(struct sim *sim, int network)
{
	(void)network;
	sim_stage_why(sim, "every network falls silent before its deadline");
}

void sim_lay_healthy_slow(struct sim *sim, int network)
{
	int module = sim_stage_pick(sim, network);

	sim_stage_slow(sim, module, sim_random_range(&sim->course, 72, 88));
	sim_stage_why(sim, "late, but before the deadline");
	sim_stage_note(sim, "%s is the last to let go", sim->modules[module].name);
}

void sim_lay_slow_infotainment(struct sim *sim, int network)
{
	(void)network;
	for (int m = 0; m < sim->module_count; m++) {
		struct sim_module *module = &sim->modules[m];
		if (!(module->tags & SIM_TAG_INFOTAINMENT))
			continue;
		sim_stage_slow(sim, m, sim_random_range(&sim->course, 60, 85));
		/* It goes on drawing for a while after its network sleeps. */
		module->extra_ua = sim_random_range(&sim->course, 100, 400) * 1000;
		module->extra_until = sim->lock + sim->sleeps_within * 95 / 100;
		sim_timers_push(&sim->timers, module->extra_until, SIM_TIMER_EXTRA, m, 0);
	}
	sim->clamp.on = true;
	sim_stage_why(sim, "the infotainment units need most of the time that is given to them");
}

void sim_lay_telematics(struct sim *sim, int network)
{
	(void)network;
	for (int m = 0; m < sim->module_count; m++)
		if (sim->modules[m].tags & SIM_TAG_TELEMATICS)
			sim->pulse_module = m;
	/* 80-240 mA for about 45 s every 9-10 min: published as normal. */
	sim->pulse_length = sim->small ? 8 * SIM_S : 45 * SIM_S;
	sim->pulse_every = sim->small ? 60 * SIM_S : sim_stage_seconds(sim, 540, 600);
	sim->clamp.on = true;
	sim_stage_end_after_deadline(sim, sim->small ? 130 * SIM_S : 25 * SIM_MIN);
	sim_stage_why(sim, "the networks sleep; the pulses of current are the telematics unit's");
}

void sim_lay_current_high(struct sim *sim, int network)
{
	int module = sim_stage_pick(sim, network);

	sim_stage_story(sim, "draws current while asleep", "drain");
	sim->clamp.on = true;
	sim->clamp.high_ua = sim_random_range(&sim->course, 90, 900) * 1000;
	/* Not a network matter: what hangs on one of the fuses beside its modules. */
	sim->story.determined = false;
	sim_stage_why(sim,
		      "the networks sleep and the current stays high: that it is not a network "
		      "matter is certain, which circuit it is cannot be seen");
	sim_stage_note(sim, "%d mA through fuse %s", (int)(sim->clamp.high_ua / 1000),
		       sim->fuses[sim->modules[module].fuses[0]].name);
}
