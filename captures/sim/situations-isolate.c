/* SPDX-License-Identifier: MIT */
/* Fuses pulled and plugs drawn while it is recorded. */
#include "stage.h"

static void hold(struct sim *sim, int network)
{
	sim_stage_story(sim, "kept awake", "holder");
	sim_stage_hold(sim, sim_stage_pick(sim, network));
	sim_stage_explain_holder(sim, network);
}

/* How long people wait for the network to fall silent: what the fuse puller
 * stirs up is short (boot of the refitted, the body unit's lamps), but nobody
 * knows that beforehand. */
static int64_t patience(struct sim *sim)
{
	return sim->small ? sim->sleeps_within
			  : sim->sleeps_within * 8 / 10 + sim_stage_seconds(sim, 60, 300);
}

static int64_t first_pull(struct sim *sim)
{
	return sim_stage_deadline(sim) + sim_stage_seconds(sim, 5, sim->small ? 10 : 120);
}

/* Isolates at `at`, refits when `back` is not SIM_NEVER; records a while more. */
static void isolate(struct sim *sim, int fuse, int64_t at, int64_t back)
{
	int64_t last = back == SIM_NEVER ? at + patience(sim) : back;

	sim_add_action(sim, SIM_ACT_ISOLATE, at, fuse);
	if (back != SIM_NEVER)
		sim_add_action(sim, SIM_ACT_REFIT, back, fuse);
	sim->recorder.stop = last + (sim->small ? SIM_MIN : sim_stage_seconds(sim, 300, 600));
}

static bool on_fuse(const struct sim *sim, int module, int fuse)
{
	return sim->modules[module].fuses[0] == fuse || sim->modules[module].fuses[1] == fuse;
}

static int fed_by(const struct sim *sim, int fuse)
{
	int count = 0;

	for (int m = 0; m < sim->module_count; m++)
		count += on_fuse(sim, m, fuse);
	return count;
}

/* An innocent module whose one fuse does not feed the culprit. */
static int innocent(struct sim *sim, int but)
{
	int culprit = sim->story.culprits[0], choice = -1;

	for (int tries = 0; tries < 80; tries++) {
		int m = (int)sim_random_range(&sim->course, 0, sim->module_count - 1);
		if (m == sim->gateway || m == but || sim->modules[m].fuses[1] >= 0 ||
		    on_fuse(sim, culprit, sim->modules[m].fuses[0]))
			continue;
		choice = m;
		if (but < 0 || sim->modules[m].fuses[0] != sim->modules[but].fuses[0])
			break;
	}
	return choice;
}

static int culprit_fuse(struct sim *sim)
{
	struct sim_module *module = &sim->modules[sim->story.culprits[0]];

	module->fuses[1] = -1;
	module->fuse_in_map = true;
	return module->fuses[0];
}

static void explain_isolation(struct sim *sim, int fuse)
{
	int fed = fed_by(sim, fuse);

	sim->story.determined |= fed == 1;
	sim_stage_why(sim, "isolating its fuse lets the network sleep%s",
		      fed > 1 ? "; the fuse feeds others, too" : "");
	sim_stage_note(sim, "fuse %s feeds %d module%s", sim->fuses[fuse].name, fed,
		       fed > 1 ? "s" : "");
}

void sim_lay_isolation_right(struct sim *sim, int network)
{
	hold(sim, network);
	int fuse = culprit_fuse(sim);
	int64_t at = first_pull(sim);
	bool refitted = sim_random_chance(&sim->course, 75);
	isolate(sim, fuse, at, refitted ? at + patience(sim) : SIM_NEVER);
	sim->story.isolated = sim->story.culprits[0];
	explain_isolation(sim, fuse);
}

void sim_lay_isolation_wrong(struct sim *sim, int network)
{
	hold(sim, network);
	int module = innocent(sim, -1);
	if (module < 0)
		return;
	int64_t at = first_pull(sim);
	isolate(sim, sim->modules[module].fuses[0], at, at + patience(sim));
	sim->story.isolated = module;
	sim_stage_note(sim, "isolating %s (%s) changes nothing",
		       sim->fuses[sim->modules[module].fuses[0]].name, sim->modules[module].name);
}

/* One fuse after the other, the right one last. */
void sim_lay_isolation_search(struct sim *sim, int network)
{
	int64_t at, wait;
	int before = -1;

	hold(sim, network);
	int fuse = culprit_fuse(sim);
	at = first_pull(sim);
	wait = sim->small ? 40 * SIM_S : sim_stage_seconds(sim, 150, 400);
	for (int i = 0; i < 2; i++) {
		int module = innocent(sim, before);
		if (module < 0)
			break;
		isolate(sim, sim->modules[module].fuses[0], at, at + wait);
		at += wait + sim_stage_seconds(sim, 20, 60);
		before = module;
	}
	isolate(sim, fuse, at, at + patience(sim));
	sim->story.isolated = sim->story.culprits[0];
	explain_isolation(sim, fuse);
}

/* The right fuse, but it is back before anything could fall asleep. */
void sim_lay_isolation_brief(struct sim *sim, int network)
{
	hold(sim, network);
	int64_t at = first_pull(sim);
	isolate(sim, culprit_fuse(sim), at,
		at + sim_random_range(&sim->course, 1500, 5000) * SIM_MS);
	sim->story.isolated = sim->story.culprits[0];
	sim_stage_note(sim, "isolated for too short a time to see anything but who fell silent");
}

/* Something that the map does not know is unplugged while the network is
 * kept awake: its IDs vanish and come back. */
void sim_lay_unplugged(struct sim *sim, int network)
{
	hold(sim, network);
	int module = sim_stage_pick(sim, network);
	if (module < 0)
		return;
	int64_t at = first_pull(sim);
	int64_t back = at + sim_stage_seconds(sim, 20, sim->small ? 30 : 120);
	sim_add_action(sim, SIM_ACT_UNPLUG, at, module);
	sim_add_action(sim, SIM_ACT_REPLUG, back, module);
	sim->recorder.stop = back + (sim->small ? SIM_MIN : sim_stage_seconds(sim, 120, 300));
	sim->modules[module].in_map = false;
	sim->map.missing[sim->map.missing_count++] = module;
	sim->story.isolated = module;
	sim_stage_note(sim, "%s is not in the map and is unplugged", sim->modules[module].name);
}
