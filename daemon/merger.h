/* SPDX-License-Identifier: MIT */
/* Puts events of several networks, the journal and the current logger in one
 * order of time, as the recording and the analysis need them.
 *
 * Each origin has a lane; within a lane the order of arrival is kept. Events
 * wait until everything earlier must have arrived, which the caller states as
 * a horizon. At equal times the lane with the lower number goes first. */
#ifndef NOD_MERGER_H
#define NOD_MERGER_H

#include <stddef.h>

#include "event.h"

/* Events one lane may hold; a push to a full lane fails.
 * Chosen: seven seconds of a full 500 kbit/s network (about 4500 short frames
 * a second), 3 MB. The caller drains several times a second. */
#define NOD_MERGER_LANE_MAX 32768

struct nod_merger;

/* Each lane has room for the first events at once, and for the texts of a few
 * marks: that nobody listened must be said above all when memory runs out. NULL
 * when it has. */
struct nod_merger *nod_merger_new(size_t lanes);
void nod_merger_free(struct nod_merger *merger);

/* Copies the event (and a mark's subject). Returns 0, -ENOBUFS when the lane
 * is full or -ENOMEM. */
int nod_merger_push(struct nod_merger *merger, size_t lane, const struct nod_event *event);

/* Room for one event in the lane, to be filled in place and then confirmed
 * with nod_merger_commit(); NULL when it is full or memory ran out. For
 * events without strings. */
struct nod_event *nod_merger_reserve(struct nod_merger *merger, size_t lane);
void nod_merger_commit(struct nod_merger *merger, size_t lane);

typedef void nod_merger_take(void *context, const struct nod_event *event);

/* Hands on every event that is not later than the horizon, in order. Returns
 * their number. */
size_t nod_merger_drain(struct nod_merger *merger, nod_time horizon, nod_merger_take *take,
			void *context);

/* Hands on everything. */
size_t nod_merger_flush(struct nod_merger *merger, nod_merger_take *take, void *context);

/* ---- when the clock was set ---- */

/* Says that the clock had not been set when everything that waits was stamped. */
void nod_merger_confirm(struct nod_merger *merger);

/* The clock was found set by `jump`. Hands on, in order, what was stamped before: in each
 * lane what was confirmed, and what comes then up to the first event on the far side of
 * `boundary`, halfway between what the clock would show now and what it shows. */
void nod_merger_drain_old(struct nod_merger *merger, nod_time boundary, nod_duration jump,
			  nod_merger_take *take, void *context);

/* As nod_merger_push(), in front of all that waits in the lane. */
int nod_merger_push_first(struct nod_merger *merger, size_t lane, const struct nod_event *event);

/* Time of the earliest event that waits, and of the one handed on last; NOD_TIME_NONE:
 * there is none. */
nod_time nod_merger_earliest(const struct nod_merger *merger);
nod_time nod_merger_handed(const struct nod_merger *merger);

/* Events waiting in all lanes. */
size_t nod_merger_waiting(const struct nod_merger *merger);

/* Time of the newest event of a lane, NOD_TIME_NONE when it is empty. */
nod_time nod_merger_newest(const struct nod_merger *merger, size_t lane);

#endif
