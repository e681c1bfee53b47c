/* SPDX-License-Identifier: MIT */
/* How the person keeps the journal of what was pulled and put back. */
#include "habits.h"

#include <stdio.h>

bool sim_intervenes(enum sim_act act)
{
	return act == SIM_ACT_ISOLATE || act == SIM_ACT_REFIT || act == SIM_ACT_UNPLUG ||
	       act == SIM_ACT_REPLUG;
}

/* Another fuse of the map, by the name that a tired eye reads. */
static void misname(struct sim *sim, struct sim_random *random, struct sim_action *action)
{
	int wrong = (int)sim_random_range(random, 0, sim->fuse_count - 2);

	if (action->act == SIM_ACT_ISOLATE && wrong >= action->subject)
		wrong++;
	snprintf(action->text, sizeof(action->text), "%s", sim->fuses[wrong].name);
}

void sim_keep_journal(struct sim *sim, enum nod_generator_habit habit, int64_t late)
{
	struct sim_random random;
	int64_t entered = 0;

	sim_random_seed(&random, sim->seed, 5 + 16 * (uint64_t)sim->session);
	for (int i = 0; i < sim->action_count; i++) {
		struct sim_action *action = &sim->actions[i];
		if (!sim_intervenes(action->act))
			continue;
		action->mark_delay = 0;
		if (habit == NOD_HABIT_LATE)
			action->mark_delay = sim_random_range(&random, 0, late);
		if (habit == NOD_HABIT_FORGETS)
			action->marked = false;
		if (habit == NOD_HABIT_MISNAMES && sim->fuse_count > 1 &&
		    (action->act == SIM_ACT_ISOLATE || action->act == SIM_ACT_UNPLUG))
			misname(sim, &random, action);
		if (habit == NOD_HABIT_MISNAMES && i && action->act != SIM_ACT_ISOLATE &&
		    action->act != SIM_ACT_UNPLUG) /* what was put back is what was pulled */
			snprintf(action->text, sizeof(action->text), "%s",
				 sim->actions[i - 1].text);
		/* entered in the order in which it was done, before the recording ends */
		if (action->at + action->mark_delay <= entered)
			action->mark_delay = entered + SIM_S - action->at;
		if (action->at + action->mark_delay > sim->recorder.stop - SIM_S)
			action->mark_delay = sim->recorder.stop - SIM_S - action->at;
		entered = action->at + action->mark_delay;
	}
}
