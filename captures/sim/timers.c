/* SPDX-License-Identifier: MIT */
#include "timers.h"

#include <stdlib.h>

static bool before(const struct sim_timer *a, const struct sim_timer *b)
{
	return a->at < b->at || (a->at == b->at && a->order < b->order);
}

static bool grow(struct sim_timers *timers)
{
	size_t room = timers->room ? 2 * timers->room : 256;
	struct sim_timer *heap = realloc(timers->heap, room * sizeof(*heap));

	if (!heap) {
		timers->failed = true;
		return false;
	}
	timers->heap = heap;
	timers->room = room;
	return true;
}

void sim_timers_push(struct sim_timers *timers, int64_t at, unsigned kind, int index,
		     uint32_t generation)
{
	if (timers->used == timers->room && !grow(timers))
		return;
	struct sim_timer timer = {at, timers->order++, generation, (uint16_t)kind, (uint16_t)index};
	size_t hole = timers->used++;
	while (hole > 0 && before(&timer, &timers->heap[(hole - 1) / 2])) {
		timers->heap[hole] = timers->heap[(hole - 1) / 2];
		hole = (hole - 1) / 2;
	}
	timers->heap[hole] = timer;
}

bool sim_timers_pop(struct sim_timers *timers, struct sim_timer *timer)
{
	if (!timers->used)
		return false;
	*timer = timers->heap[0];
	struct sim_timer last = timers->heap[--timers->used];
	size_t hole = 0;
	for (;;) {
		size_t child = 2 * hole + 1;
		if (child >= timers->used)
			break;
		if (child + 1 < timers->used &&
		    before(&timers->heap[child + 1], &timers->heap[child]))
			child++;
		if (!before(&timers->heap[child], &last))
			break;
		timers->heap[hole] = timers->heap[child];
		hole = child;
	}
	if (timers->used)
		timers->heap[hole] = last;
	return true;
}

void sim_timers_free(struct sim_timers *timers)
{
	free(timers->heap);
	*timers = (struct sim_timers){0};
}
