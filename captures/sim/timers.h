/* SPDX-License-Identifier: MIT */
/* What happens next: a binary heap of timers, earliest first; timers of equal
 * time come in the order in which they were set. A timer is never taken out:
 * whoever sets it keeps a generation and ignores timers of an older one. */
#ifndef SIM_TIMERS_H
#define SIM_TIMERS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct sim_timer {
	int64_t at; /* ns since the start of the simulation */
	uint32_t order;
	uint32_t generation;
	uint16_t kind, index;
};

struct sim_timers {
	struct sim_timer *heap;
	size_t used, room;
	uint32_t order;
	bool failed; /* memory ran out: the session is not to be used */
};

void sim_timers_push(struct sim_timers *timers, int64_t at, unsigned kind, int index,
		     uint32_t generation);

/* Takes out the earliest; false when there is none. */
bool sim_timers_pop(struct sim_timers *timers, struct sim_timer *timer);

void sim_timers_free(struct sim_timers *timers);

#endif
