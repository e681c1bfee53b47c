/* The marks of a session, in the order in which they are delivered. */
#ifndef NOD_SESSION_MARKS_H
#define NOD_SESSION_MARKS_H

#include <stdbool.h>
#include <stddef.h>

#include "arena.h"
#include "journal.h"

/* A mark in its epoch: how often the clock was set back before it. Times of
 * different epochs do not compare; the epoch goes first. */
struct nod_session_mark {
	struct nod_mark mark;
	unsigned epoch;
	size_t order; /* in which they were added */
	bool undone;  /* taken back, or what takes another back */
};

/* Entries that take another back, of one journal; more take nothing back. Chosen: far more
 * than a person regrets, and searched one by one. */
#define NOD_SESSION_UNDONE_MAX 1000

/* The clock was set back at the end of an epoch. */
struct nod_session_step {
	nod_time end; /* on the clock before: no event of that epoch is later */
	nod_duration length; /* negative */
};

struct nod_session_marks {
	struct nod_session_mark *list; /* sorted from `next` on */
	size_t count, room, next;
	struct nod_session_step *steps; /* between the epochs */
	unsigned epochs;		/* count of steps */
	struct nod_arena texts;
};

/* Adds a copy; the order must be restored with nod_session_marks_sort().
 * Returns 0 or -ENOMEM. */
int nod_session_marks_add(struct nod_session_marks *marks, const struct nod_mark *mark);

/* Adds one while they are delivered, in its place (at once when it is late).
 * It belongs to `epoch`. Returns 0 or -ENOMEM. */
int nod_session_marks_insert(struct nod_session_marks *marks, const struct nod_mark *mark,
			     unsigned epoch);

/* Puts them in order, without those that were taken back ("undone") and the entries that
 * say so. Called once, when all were added. */
void nod_session_marks_sort(struct nod_session_marks *marks);

/* The next to be delivered, or NULL. */
const struct nod_session_mark *nod_session_marks_peek(const struct nod_session_marks *marks);

/* Time of the last "locked", NOD_TIME_NONE when there is none. */
nod_time nod_session_marks_lock(const struct nod_session_marks *marks);

void nod_session_marks_free(struct nod_session_marks *marks);

/* How far a "clock step" mark sets the clock back: a negative span, or 0 for any other
 * mark, a step forward or an unknown one. */
nod_duration nod_session_mark_back_step(const struct nod_mark *mark);

#endif
