/* SPDX-License-Identifier: MIT */
/* What the person does: testers, doors, keys. */
#include "stage.h"

void sim_lay_tester(struct sim *sim, int network)
{
	struct sim_tester *tester = &sim->tester;
	int64_t at = sim_random_chance(&sim->course, 70) ? 5 * SIM_S
							 : sim->lock + sim->sleeps_within * 6 / 10;

	tester->network = network;
	tester->extended = sim->networks[network].extended;
	tester->suppress = sim_random_chance(&sim->course, 50);
	tester->physical = sim_random_chance(&sim->course, 40);
	tester->interval = sim_random_range(&sim->course, 1500, 2200) * SIM_MS;
	tester->answering = sim->networks[network].master;
	struct sim_action *action = sim_add_action(sim, SIM_ACT_TESTER_ON, at, -1);
	/* Who enters it into the journal does not leave it plugged in. */
	action->marked = false;
	sim_stage_story(sim, "kept awake", "tester");
	sim_stage_why(sim, "diagnostic requests come every %d ms: our own tool or a dongle",
		      (int)(tester->interval / SIM_MS));
	sim_stage_note(sim, "%s only answers it",
		       sim->modules[sim->nodes[tester->answering].module].name);
}

/* A dongle that only says that it is there, under an ID of the maker's, and that nobody answers. */
void sim_lay_tester_unanswered(struct sim *sim, int network)
{
	struct sim_tester *tester = &sim->tester;

	sim_lay_tester(sim, network);
	tester->suppress = true;
	tester->answering = -1;
	tester->id = tester->extended
			     ? NOD_ID_EXTENDED | 0x18EA0000 |
				       (uint32_t)sim_random_range(&sim->course, 0x4000, 0xF0FF)
			     : 0x700 + (uint32_t)sim_random_range(&sim->course, 0, 0xBF);
	sim_stage_note(sim, "nobody answers it");
}

void sim_lay_door(struct sim *sim, int network)
{
	int64_t at = sim->lock + sim->sleeps_within * sim_random_range(&sim->course, 30, 100) / 100;

	(void)network;
	sim_add_action(sim, SIM_ACT_DOOR, at, -1);
	sim->recorder.stop = at + sim->sleeps_within + sim_stage_seconds(sim, 10, 120);
	sim_stage_why(sim, "the settle time counts anew from the door, and it sleeps within it");
	sim_stage_note(sim, "a door is opened %d s after the lock",
		       (int)((at - sim->lock) / SIM_S));
}

/* A module with an input that somebody can work on. */
static int touchable(struct sim *sim)
{
	int m = (int)sim_random_range(&sim->course, 0, sim->module_count - 1);

	for (int k = 0; k < sim->module_count && !sim->modules[m].inputs[0]; k++)
		m = (m + 1) % sim->module_count;
	return m;
}

void sim_lay_disturbance(struct sim *sim, int network)
{
	bool all_marked = true;
	int times = (int)sim_random_range(&sim->course, 1, 3);
	int64_t at = sim_stage_deadline(sim);

	(void)network;
	for (int i = 0; i < times; i++) {
		at += sim_stage_seconds(sim, sim->small ? 20 : 60, sim->small ? 40 : 400);
		struct sim_action *action = NULL;
		if (sim_random_chance(&sim->course, 60))
			action = sim_add_action(sim, SIM_ACT_KEY, at, -1);
		else
			action = sim_add_action(sim, SIM_ACT_TOUCH, at, touchable(sim));
		action->marked = sim_random_chance(&sim->course, 75);
		all_marked &= action->marked;
	}
	sim->recorder.stop = at + (sim->small ? SIM_MIN : sim_stage_seconds(sim, 240, 500));
	sim->story.determined = all_marked;
	sim_stage_story(sim, all_marked ? "sleeps in time" : "woken again",
			all_marked ? "none" : "disturbance");
	sim_stage_why(sim, all_marked ? "every wake-up has its mark in the journal"
				      : "a wake-up that nobody entered looks like a fault");
}
