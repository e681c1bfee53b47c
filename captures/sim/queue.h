/* SPDX-License-Identifier: MIT */
/* Events that wait for their turn, in the order of their true time. */
#ifndef SIM_QUEUE_H
#define SIM_QUEUE_H

#include "sim.h"

/* False when memory ran out. */
bool sim_queue_put(struct sim_queue *queue, int64_t at, const struct nod_event *event);

static inline const struct sim_out *sim_queue_front(const struct sim_queue *queue)
{
	return queue->first < queue->used ? &queue->items[queue->first] : NULL;
}

void sim_queue_drop_front(struct sim_queue *queue);

#endif
