/* SPDX-License-Identifier: MIT */
#include "queue.h"

#include <stdlib.h>
#include <string.h>

static bool make_room(struct sim_queue *queue)
{
	if (queue->used < queue->room)
		return true;
	if (queue->first > queue->room / 2) {
		queue->used -= queue->first;
		memmove(queue->items, queue->items + queue->first,
			queue->used * sizeof(*queue->items));
		queue->first = 0;
		return true;
	}
	size_t room = queue->room ? 2 * queue->room : 64;
	struct sim_out *items = realloc(queue->items, room * sizeof(*items));
	if (!items)
		return false;
	queue->items = items;
	queue->room = room;
	return true;
}

bool sim_queue_put(struct sim_queue *queue, int64_t at, const struct nod_event *event)
{
	if (!make_room(queue))
		return false;
	size_t place = queue->used++;
	while (place > queue->first && queue->items[place - 1].at > at) {
		queue->items[place] = queue->items[place - 1];
		place--;
	}
	queue->items[place].at = at;
	queue->items[place].event = *event;
	return true;
}

void sim_queue_drop_front(struct sim_queue *queue)
{
	if (++queue->first == queue->used)
		queue->first = queue->used = 0;
}
