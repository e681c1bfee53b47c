/* SPDX-License-Identifier: MIT */
/* The marks of a session, in the order in which they are delivered. */
#ifndef NOD_SESSION_MARKS_H
#define NOD_SESSION_MARKS_H

#include <stdbool.h>
#include <stddef.h>

#include "arena.h"
#include "journal.h"

/* A mark in its epoch: how often the clock was set before it. Times of different epochs
 * do not compare; the epoch goes first, and in it the mark that begins it. */
struct nod_session_mark {
	struct nod_mark mark;
	unsigned epoch;
	bool begins;  /* its epoch */
	size_t order; /* in which they were added */
	bool undone;  /* taken back, or what takes another back */
};

/* Marks that take another back, of one journal; more take nothing back. Chosen: far more
 * than a person regrets, and searched one by one. */
#define NOD_SESSION_UNDONE_MAX 1000

/* The clock was set at the end of an epoch. */
struct nod_session_step {
	nod_time end;        /* on the clock before: no event of that epoch is later */
	nod_duration length; /* new clock minus old, not 0 */
};

struct nod_session_marks {
	struct nod_session_mark *list; /* the journal's in order, then those inserted */
	size_t count, room;
	size_t *waiting; /* a heap of indexes: those not yet delivered, the earliest first */
	size_t waiting_count;
	struct nod_session_step *steps; /* between the epochs */
	unsigned epochs;                /* count of steps */
	struct nod_arena texts;
};

/* Adds a copy; the order must be restored with nod_session_marks_sort().
 * Returns 0 or -ENOMEM. */
int nod_session_marks_add(struct nod_session_marks *marks, const struct nod_mark *mark);

/* Adds one while they are delivered, in its place (at once when it is late).
 * It belongs to `epoch`. Returns 0 or -ENOMEM. */
int nod_session_marks_insert(struct nod_session_marks *marks, const struct nod_mark *mark,
			     unsigned epoch);

/* Puts them in order, without those that were taken back ("undone") and the marks that
 * say so. Called once, when all were added. */
void nod_session_marks_sort(struct nod_session_marks *marks);

/* The next to be delivered, or NULL; and that it was. */
const struct nod_session_mark *nod_session_marks_peek(const struct nod_session_marks *marks);
void nod_session_marks_pass(struct nod_session_marks *marks);

/* Time of the last "locked", NOD_TIME_NONE when there is none. */
nod_time nod_session_marks_lock(const struct nod_session_marks *marks);

void nod_session_marks_free(struct nod_session_marks *marks);

/* How far a "clock step" mark sets the clock; 0 for any other mark and an unknown step. */
nod_duration nod_session_mark_step(const struct nod_mark *mark);

/* Tells from its time that an event of a stream comes after the step; `last` is the time of
 * the event before it in that stream, or NOD_TIME_NONE.
 *
 * Who writes the mark may have read events of the new clock before, so its own time does
 * not divide them: where the clock was set forward, halfway between the two clocks does;
 * where it was set back, what is later than the old clock ever was, and what is much
 * earlier than the event before it. */
static inline bool nod_session_step_is_past(const struct nod_session_step *step, nod_time time,
					    nod_time last)
{
	if (step->length.ns > 0)
		return nod_time_since(time, step->end).ns > step->length.ns / 2;
	return time.ns > step->end.ns ||
	       (nod_time_is_set(last) && nod_time_since(time, last).ns < step->length.ns / 2);
}

/* The time by which a mark is put in order: of the one that begins an epoch, none. */
static inline nod_time nod_session_mark_place(const struct nod_session_mark *mark)
{
	return mark->begins ? NOD_TIME_NONE : mark->mark.time;
}

#endif
