/* SPDX-License-Identifier: MIT */
#include "merger.h"

#include <errno.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#define FIRST_SIZE 256

/* Texts of marks for when memory ran out. Chosen: gaps of every network at once; the
 * longest text of one is an interface's name and a length. */
#define SPARE_TEXTS 32
#define SPARE_SIZE 64

/* A ring; size is a power of two. */
struct lane {
	struct nod_event *events;
	size_t size, head, count;
	size_t confirmed; /* of these, stamped before the clock was set, if it was */
};

struct nod_merger {
	char spare[SPARE_TEXTS][SPARE_SIZE]; /* empty: free */
	nod_time handed;                     /* of the event handed on last */
	size_t lane_count;
	struct lane lanes[];
};

static struct nod_event *at(const struct lane *lane, size_t position)
{
	return &lane->events[(lane->head + position) & (lane->size - 1)];
}

static int grow(struct lane *lane)
{
	size_t size = lane->size ? lane->size * 2 : FIRST_SIZE;
	struct nod_event *events;

	if (size > NOD_MERGER_LANE_MAX)
		return -ENOBUFS;
	events = malloc(size * sizeof(*events));
	if (!events)
		return -ENOMEM;
	for (size_t k = 0; k < lane->count; k++)
		events[k] = *at(lane, k);
	free(lane->events);
	*lane = (struct lane){events, size, 0, lane->count, lane->confirmed};
	return 0;
}

struct nod_merger *nod_merger_new(size_t lanes)
{
	struct nod_merger *merger = calloc(1, sizeof(*merger) + lanes * sizeof(struct lane));

	if (!merger)
		return NULL;
	merger->lane_count = lanes;
	merger->handed = NOD_TIME_NONE;
	for (size_t i = 0; i < lanes; i++)
		if (grow(&merger->lanes[i])) {
			nod_merger_free(merger);
			return NULL;
		}
	return merger;
}

static const char *keep_text(struct nod_merger *merger, const char *text)
{
	char *copy = strdup(text);

	for (size_t i = 0; !copy && i < SPARE_TEXTS && *text && strlen(text) < SPARE_SIZE; i++)
		if (!*merger->spare[i])
			copy = strcpy(merger->spare[i], text);
	return copy;
}

static void release(struct nod_merger *merger, struct nod_event *event)
{
	if (event->kind != NOD_EVENT_MARK)
		return;
	char *text = (char *)event->mark.subject;
	for (size_t i = 0; i < SPARE_TEXTS; i++)
		if (text == merger->spare[i]) {
			*text = '\0';
			return;
		}
	free(text);
}

void nod_merger_free(struct nod_merger *merger)
{
	if (!merger)
		return;
	for (size_t i = 0; i < merger->lane_count; i++) {
		struct lane *lane = &merger->lanes[i];
		for (size_t k = 0; k < lane->count; k++)
			release(merger, at(lane, k));
		free(lane->events);
	}
	free(merger);
}

struct nod_event *nod_merger_reserve(struct nod_merger *merger, size_t lane_index)
{
	struct lane *lane = &merger->lanes[lane_index];

	if (lane->count == lane->size && grow(lane))
		return NULL;
	return at(lane, lane->count);
}

void nod_merger_commit(struct nod_merger *merger, size_t lane)
{
	merger->lanes[lane].count++;
}

/* Room in the lane, and a copy of the event's text. */
static int take_in(struct nod_merger *merger, struct lane *lane, struct nod_event *event)
{
	int status = lane->count == lane->size ? grow(lane) : 0;

	if (status || event->kind != NOD_EVENT_MARK)
		return status;
	event->mark.subject = keep_text(merger, event->mark.subject);
	return event->mark.subject ? 0 : -ENOMEM;
}

int nod_merger_push(struct nod_merger *merger, size_t lane_index, const struct nod_event *event)
{
	struct lane *lane = &merger->lanes[lane_index];
	struct nod_event copy = *event;
	int status = take_in(merger, lane, &copy);

	if (!status)
		*at(lane, lane->count++) = copy;
	return status;
}

int nod_merger_push_first(struct nod_merger *merger, size_t lane_index,
			  const struct nod_event *event)
{
	struct lane *lane = &merger->lanes[lane_index];
	struct nod_event copy = *event;
	int status = take_in(merger, lane, &copy);

	if (status)
		return status;
	lane->head = (lane->head - 1) & (lane->size - 1);
	lane->count++;
	*at(lane, 0) = copy;
	return 0;
}

/* The lane whose first event is the earliest; of those with `confirmed` ones only. */
static struct lane *earliest(struct nod_merger *merger, bool confirmed)
{
	struct lane *best = NULL;

	for (size_t i = 0; i < merger->lane_count; i++) {
		struct lane *lane = &merger->lanes[i];
		if ((confirmed ? lane->confirmed : lane->count) &&
		    (!best || at(lane, 0)->time.ns < at(best, 0)->time.ns))
			best = lane;
	}
	return best;
}

static void hand_on(struct nod_merger *merger, struct lane *lane, nod_merger_take *take,
		    void *context)
{
	merger->handed = at(lane, 0)->time;
	take(context, at(lane, 0));
	release(merger, at(lane, 0));
	lane->head = (lane->head + 1) & (lane->size - 1);
	lane->count--;
	lane->confirmed -= lane->confirmed > 0;
}

size_t nod_merger_drain(struct nod_merger *merger, nod_time horizon, nod_merger_take *take,
			void *context)
{
	size_t taken = 0;
	struct lane *lane;

	while ((lane = earliest(merger, false)) && at(lane, 0)->time.ns <= horizon.ns) {
		hand_on(merger, lane, take, context);
		taken++;
	}
	return taken;
}

size_t nod_merger_flush(struct nod_merger *merger, nod_merger_take *take, void *context)
{
	return nod_merger_drain(merger, (nod_time){INT64_MAX}, take, context);
}

void nod_merger_confirm(struct nod_merger *merger)
{
	for (size_t i = 0; i < merger->lane_count; i++)
		merger->lanes[i].confirmed = merger->lanes[i].count;
}

static bool is_old(nod_time time, nod_time boundary, nod_duration jump)
{
	return jump.ns > 0 ? time.ns <= boundary.ns : time.ns >= boundary.ns;
}

void nod_merger_drain_old(struct nod_merger *merger, nod_time boundary, nod_duration jump,
			  nod_merger_take *take, void *context)
{
	struct lane *lane;

	for (size_t i = 0; i < merger->lane_count; i++) {
		lane = &merger->lanes[i];
		while (lane->confirmed < lane->count &&
		       is_old(at(lane, lane->confirmed)->time, boundary, jump))
			lane->confirmed++;
	}
	while ((lane = earliest(merger, true)))
		hand_on(merger, lane, take, context);
}

nod_time nod_merger_earliest(const struct nod_merger *merger)
{
	nod_time time = NOD_TIME_NONE;

	for (size_t i = 0; i < merger->lane_count; i++) {
		const struct lane *lane = &merger->lanes[i];
		if (lane->count && (!nod_time_is_set(time) || at(lane, 0)->time.ns < time.ns))
			time = at(lane, 0)->time;
	}
	return time;
}

nod_time nod_merger_handed(const struct nod_merger *merger)
{
	return merger->handed;
}

size_t nod_merger_waiting(const struct nod_merger *merger)
{
	size_t count = 0;

	for (size_t i = 0; i < merger->lane_count; i++)
		count += merger->lanes[i].count;
	return count;
}

nod_time nod_merger_newest(const struct nod_merger *merger, size_t lane_index)
{
	const struct lane *lane = &merger->lanes[lane_index];

	return lane->count ? at(lane, lane->count - 1)->time : NOD_TIME_NONE;
}
