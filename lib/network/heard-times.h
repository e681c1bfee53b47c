/* SPDX-License-Identifier: MIT */
/* When each message was heard: the stretches of time in which an ID was sent,
 * and the silences between them. Fed with the same events as the engine; what
 * the history of an ID and the learning of the map are made from.
 *
 * A silence parts two stretches when it is longer than the ID's usual interval
 * by NOD_HEARD_FACTOR and longer than NOD_HEARD_FLOOR_NS. Memory is bounded:
 * an ID that has more stretches than there is room for gets the shortest
 * silences closed, and `silence` says from which length on they were kept. When
 * all IDs together have too many, those with the most get less room. */
#ifndef NOD_HEARD_H
#define NOD_HEARD_H

#include <stddef.h>
#include <stdint.h>

#include "event.h"

/* Chosen: above two periods of the slowest messages of a network's management
 * (about a second), so that a lost frame does not make two stretches. */
#define NOD_HEARD_FLOOR_NS (2 * NOD_NS_PER_S)
#define NOD_HEARD_FACTOR 5
/* Longer intervals than this are no period. Chosen: cyclic messages have at
 * most a few seconds. */
#define NOD_HEARD_PERIOD_MAX_NS (10 * NOD_NS_PER_S)
/* Stretches of one ID, and IDs. Chosen: a wake-up every 10 min for a month;
 * more IDs than any car has (others are left out). */
#define NOD_HEARD_STRETCHES 4096
#define NOD_HEARD_IDS 20000
/* Stretches of all IDs together, 24 bytes each. Chosen: ten times what a hundred IDs
 * have in a week of a wake-up a minute, in 24 MB; with NOD_HEARD_IDS each may still
 * have NOD_HEARD_STRETCHES_LEAST. */
#define NOD_HEARD_STRETCHES_ALL 1000000
#define NOD_HEARD_STRETCHES_LEAST 32

struct nod_stretch {
	nod_time from, to; /* first and last frame */
	uint64_t frames;   /* at least 1 */
};

struct nod_heard_id {
	uint32_t id; /* with NOD_ID_EXTENDED */
	uint8_t interface;
	struct nod_stretch *stretches; /* in time order */
	uint32_t count, room;
	nod_duration silence;    /* shorter ones than this part nothing; 0: as above */
	nod_duration usual;      /* running interval; 0: not known yet */
	uint64_t intervals;      /* within stretches */
	uint64_t long_intervals; /* of these, longer than 1.5 of the usual one then */
};

struct nod_heard;

/* NULL when memory ran out. */
struct nod_heard *nod_heard_new(void);
void nod_heard_free(struct nod_heard *heard);

/* Takes an event; only data and remote frames matter. `shift` is
 * nod_engine_clock_shift(). Returns 0 or -ENOMEM (the event is left out). */
int nod_heard_take(struct nod_heard *heard, const struct nod_event *event, nod_duration shift);

/* The IDs in the order in which they were first heard. */
size_t nod_heard_count(const struct nod_heard *heard);
const struct nod_heard_id *nod_heard_id(const struct nod_heard *heard, size_t index);

/* The mean interval within its stretches; NOD_DURATION_NONE when it never
 * came twice in one. */
nod_duration nod_heard_interval(const struct nod_heard_id *id);

#endif
