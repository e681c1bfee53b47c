/* SPDX-License-Identifier: MIT */
/* How the person keeps the journal of what was pulled and put back. */
#ifndef SIM_HABITS_H
#define SIM_HABITS_H

#include "../generator.h"
#include "sim.h"

/* True for what is pulled, unplugged and put back. */
bool sim_intervenes(enum sim_act act);

/* Sets when and as what the interventions are entered: at their very time, up to `late`
 * after them, never, or under the name of another fuse. */
void sim_keep_journal(struct sim *sim, enum nod_generator_habit habit, int64_t late);

#endif
