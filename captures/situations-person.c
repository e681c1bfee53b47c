/* What the person does: testers, doors, keys, fuses. */
#include "stage.h"

void sim_lay_tester(struct sim *sim, int network)
{
	struct sim_tester *tester = &sim->tester;
	int64_t at = sim_random_chance(&sim->course, 70)
			     ? 5 * SIM_S
			     : sim->lock + sim->sleeps_within * 6 / 10;

	tester->network = network;
	tester->extended = sim->networks[network].extended;
	tester->suppress = sim_random_chance(&sim->course, 50);
	tester->physical = sim_random_chance(&sim->course, 40);
	tester->interval = sim_random_range(&sim->course, 1500, 2200) * SIM_MS;
	tester->answering = sim->networks[network].master;
	struct sim_action *action = sim_add_action(sim, SIM_ACT_TESTER_ON, at, -1);
	action->marked = sim_random_chance(&sim->course, 30);
	sim_stage_story(sim, "kept awake", "tester");
	sim_stage_why(sim, "diagnostic requests come every %d ms: our own tool or a dongle",
		      (int)(tester->interval / SIM_MS));
	sim_stage_note(sim, "%s only answers it",
		       sim->modules[sim->nodes[tester->answering].module].name);
}

void sim_lay_door(struct sim *sim, int network)
{
	int64_t at = sim->lock + sim->sleeps_within *
					 sim_random_range(&sim->course, 30, 100) / 100;

	(void)network;
	sim_add_action(sim, SIM_ACT_DOOR, at, -1);
	sim->recorder.stop = at + sim->sleeps_within + sim_stage_seconds(sim, 10, 120);
	sim_stage_why(sim, "the settle time counts anew from the door, and it sleeps within it");
	sim_stage_note(sim, "a door is opened %d s after the lock", (int)((at - sim->lock) / SIM_S));
}

void sim_lay_disturbance(struct sim *sim, int network)
{
	bool all_marked = true;
	int times = (int)sim_random_range(&sim->course, 1, 3);
	int64_t at = sim_stage_deadline(sim);

	(void)network;
	for (int i = 0; i < times; i++) {
		at += sim_stage_seconds(sim, sim->small ? 20 : 60, sim->small ? 40 : 400);
		struct sim_action *action = sim_add_action(sim, SIM_ACT_KEY, at, -1);
		action->marked = sim_random_chance(&sim->course, 75);
		all_marked &= action->marked;
	}
	sim->recorder.stop = at + (sim->small ? SIM_MIN : sim_stage_seconds(sim, 240, 500));
	sim->story.verdict_determined = sim->story.determined = all_marked;
	sim_stage_story(sim, "sleeps in time", all_marked ? "none" : "disturbance");
	sim_stage_why(sim, all_marked ? "every wake-up has its entry in the journal"
				      : "a wake-up by a key that nobody entered looks like a fault");
}

static void hold(struct sim *sim, int network)
{
	sim_stage_story(sim, "kept awake", "holder");
	sim_stage_hold(sim, sim_stage_pick(sim, network));
	sim_stage_explain_holder(sim, network);
}

static void isolate(struct sim *sim, int fuse)
{
	int64_t span = sim->sleeps_within;
	int64_t at = sim_stage_deadline(sim) + sim_stage_seconds(sim, 5, sim->small ? 10 : 120);
	int64_t back = at + (sim->small ? span : span * 8 / 10 + sim_stage_seconds(sim, 60, 300));

	/* Nobody goes through the whole way to sleep again: what the fuse puller
	 * stirs up is short (boot of the refitted, the body unit's lamps). */
	sim_add_action(sim, SIM_ACT_ISOLATE, at, fuse);
	if (sim_random_chance(&sim->course, 75))
		sim_add_action(sim, SIM_ACT_REFIT, back, fuse);
	sim->recorder.stop = back + (sim->small ? SIM_MIN : sim_stage_seconds(sim, 300, 600));
}

void sim_lay_isolation_right(struct sim *sim, int network)
{
	hold(sim, network);
	const struct sim_module *module = &sim->modules[sim->story.culprits[0]];
	sim->modules[sim->story.culprits[0]].fuses[1] = -1;
	isolate(sim, module->fuses[0]);
	int fed = 0;
	for (int m = 0; m < sim->module_count; m++)
		fed += sim->modules[m].fuses[0] == module->fuses[0];
	if (!sim->story.determined)
		sim->story.determined = fed == 1;
	sim_stage_why(sim, "isolating its fuse lets the network sleep%s",
		      fed > 1 ? "; the fuse feeds others, too" : "");
	sim_stage_note(sim, "fuse %s feeds %d modules", sim->fuses[module->fuses[0]].name, fed);
}

void sim_lay_isolation_wrong(struct sim *sim, int network)
{
	hold(sim, network);
	int culprit = sim->story.culprits[0], innocent = culprit;
	for (int tries = 0; tries < 60; tries++) {
		innocent = (int)sim_random_range(&sim->course, 0, sim->module_count - 1);
		if (innocent != sim->gateway &&
		    sim->modules[innocent].fuses[0] != sim->modules[culprit].fuses[0] &&
		    sim->modules[innocent].fuses[0] != sim->modules[culprit].fuses[1] &&
		    sim->modules[innocent].fuses[1] < 0)
			break;
	}
	isolate(sim, sim->modules[innocent].fuses[0]);
	sim_stage_note(sim, "isolating %s (%s) changes nothing",
		       sim->fuses[sim->modules[innocent].fuses[0]].name,
		       sim->modules[innocent].name);
}
