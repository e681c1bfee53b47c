/* SPDX-License-Identifier: MIT */
/* Recordings and maps that are not as they should be. */
#include "stage.h"

static void hold(struct sim *sim, int network)
{
	sim_stage_story(sim, "kept awake", "holder");
	sim_stage_hold(sim, sim_stage_pick(sim, network));
	sim_stage_explain_holder(sim, network);
}

static void leave_out(struct sim *sim, int module)
{
	sim->modules[module].in_map = false;
	sim->map.missing[sim->map.missing_count++] = module;
}

void sim_lay_not_in_map(struct sim *sim, int network)
{
	hold(sim, network);
	leave_out(sim, sim->story.culprits[0]);
	sim->story.role = "unknown-id";
}

void sim_lay_map_holes(struct sim *sim, int network)
{
	int holes = (int)sim_random_range(&sim->course, 2, 4);

	hold(sim, network);
	for (int i = 0; i < holes; i++) {
		int m = (int)sim_random_range(&sim->course, 0, sim->module_count - 1);
		if (m != sim->story.culprits[0] && sim->modules[m].in_map)
			leave_out(sim, m);
	}
	sim_stage_note(sim, "%d innocent modules are not in the map", sim->map.missing_count);
}

void sim_lay_map_wrong(struct sim *sim, int network)
{
	hold(sim, network);
	int culprit = sim->story.culprits[0];
	bool own = sim_random_chance(&sim->course, 60);
	sim->map.wrong_from = own ? culprit : sim_stage_pick(sim, network);
	int other = sim_stage_pick(sim, network);
	for (int tries = 0; tries < 30 && other == sim->map.wrong_from; tries++)
		other = sim_stage_pick(sim, network);
	sim->map.wrong_to = other;
	if (other == sim->map.wrong_from || other < 0) {
		sim->map.wrong_from = sim->map.wrong_to = -1;
		sim_stage_note(sim, "the map turned out right: no second module on %s",
			       sim->networks[network].name);
		return;
	}
	sim_stage_note(sim, "the map lists an ID of %s at %s",
		       sim->modules[sim->map.wrong_from].name, sim->modules[other].name);
	if (own && sim->networks[network].scheme == NOD_NM_NONE) {
		sim->story.determined = false;
		sim_stage_why(sim, "the map names another module for the ID that gives it away");
	}
}

/* Half of the cars hold; a light loss hides nothing, a heavy one everything. */
void sim_lay_frames_lost(struct sim *sim, int network)
{
	bool heavy = sim_random_chance(&sim->course, 60);
	int64_t from = sim->lock + sim->sleeps_within * 7 / 10;
	struct sim_window *w = sim_stage_window(sim, SIM_WINDOW_LOSS, from,
						sim->recorder.stop + SIM_S);

	if (sim_random_chance(&sim->course, 60))
		hold(sim, network);
	else
		sim_stage_why(sim, "every network falls silent before its deadline");
	w->network = network;
	w->percent = heavy ? 100 : (unsigned)sim_random_range(&sim->course, 1, 20);
	sim_stage_note(sim, "%u %% of the frames on %s are lost from %d s after the lock on",
		       w->percent, sim->networks[network].name, (int)((from - sim->lock) / SIM_S));
	if (!heavy || !sim->story.culprit_count)
		return;
	sim->story.determined = sim->story.verdict_determined = false;
	sim_stage_why(sim, "silence on %s is only that of lost frames",
		      sim->networks[network].name);
}

void sim_lay_too_short(struct sim *sim, int network)
{
	int64_t length = sim->sleeps_within * sim_random_range(&sim->course, 10, 55) / 100;

	if (sim_random_chance(&sim->course, 50))
		hold(sim, network);
	/* Somebody needs longer than the recording lasts, in the healthy car, too. */
	int slow = sim_stage_pick(sim, network);
	if (slow >= 0)
		sim_stage_slow(sim, slow, 60);
	sim->recorder.stop = sim->lock + length;
	if (sim->recorder.start > sim->recorder.stop - 5 * SIM_S)
		sim->recorder.start = sim->lock - 2 * SIM_S;
	sim->story.determined = sim->story.verdict_determined = false;
	sim_stage_why(sim, "the recording ends %d s before the deadline",
		      (int)((sim->sleeps_within - length) / SIM_S));
}

void sim_lay_storm(struct sim *sim, int network)
{
	int64_t from = sim->lock +
		       sim->sleeps_within * sim_random_range(&sim->course, 5, 100) / 100;

	if (sim_random_chance(&sim->course, 60))
		hold(sim, network);
	else
		sim_stage_why(sim, "every network falls silent before its deadline");
	struct sim_window *w = sim_stage_window(
		sim, SIM_WINDOW_STORM, from,
		from + sim_stage_seconds(sim, 10, sim->small ? 20 : 240));
	w->network = network;
	w->percent = (unsigned)sim_random_range(&sim->course, 5, 40);
	sim_stage_note(sim, "error frames for %d s, %u %% of the frames destroyed",
		       (int)((w->until - w->from) / SIM_S), w->percent);
}

void sim_lay_clock_step(struct sim *sim, int network)
{
	static const int64_t steps[] = {3600, 7200, 90, 12, -1, -30};
	int64_t at = sim->lock + sim->sleeps_within * sim_random_range(&sim->course, 10, 110) / 100;

	if (sim_random_chance(&sim->course, 60))
		hold(sim, network);
	else
		sim_stage_why(sim, "every network falls silent; the step itself is no silence");
	struct sim_window *w = sim_stage_window(sim, SIM_WINDOW_CLOCK, at, SIM_NEVER);
	w->step = steps[sim_random_range(&sim->course, 0, 5)] * SIM_S;
	sim->clamp.on = false; /* one clock at a time */
	sim_stage_note(sim, "the clock is set by %d s", (int)(w->step / SIM_S));
}

void sim_lay_adapter(struct sim *sim, int network)
{
	bool to_the_end = sim_random_chance(&sim->course, 50);
	int64_t from = sim->lock + sim->sleeps_within * (to_the_end ? 5 : 70) / 100;
	int64_t until = to_the_end ? sim->recorder.stop - 2 * SIM_S
				   : from + sim_stage_seconds(sim, 10, sim->small ? 20 : 120);

	if (sim_random_chance(&sim->course, 60))
		hold(sim, network);
	else
		sim_stage_why(sim, "every network falls silent before its deadline");
	struct sim_window *w = sim_stage_window(sim, SIM_WINDOW_GAP, from, until);
	w->network = sim_random_chance(&sim->course, 50) ? network : -1;
	sim_stage_note(sim, "the adapter is away for %d s", (int)((until - from) / SIM_S));
	if (!to_the_end)
		return;
	sim->story.determined = sim->story.verdict_determined = false;
	sim_stage_why(sim, "nobody listened on %s from before the deadline to the end",
		      sim->networks[network].name);
}

void sim_lay_merged(struct sim *sim, int network)
{
	hold(sim, network);
	sim->recorder.back_step = sim_random_range(&sim->course, 1, 24) * SIM_MS;
	sim_stage_note(sim, "two recorders were merged: times step back by up to %d ms",
		       (int)(sim->recorder.back_step / SIM_MS));
}
