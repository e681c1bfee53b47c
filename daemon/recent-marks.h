/* SPDX-License-Identifier: MIT */
/* The marks that a person made in this recording, as far as they can still be
 * taken back or changed: the latest ones, in the order in which they were made. */
#ifndef NOD_RECENT_MARKS_H
#define NOD_RECENT_MARKS_H

#include <stdbool.h>
#include <stddef.h>

#include "journal.h"

/* Chosen: more than anybody takes back one after the other. */
#define NOD_RECENT_MARKS_MAX 256

struct nod_recent_marks {
	struct nod_mark list[NOD_RECENT_MARKS_MAX]; /* subjects are owned */
	size_t count;
	bool starved; /* one is missing for want of memory */
};

void nod_recent_marks_clear(struct nod_recent_marks *recent);

/* Adds a copy; the oldest makes room. A mark that no person makes is left out.
 * -ENOMEM: it cannot be taken back or changed. */
int nod_recent_marks_add(struct nod_recent_marks *recent, const struct nod_mark *mark);

/* The mark with this time, kind and subject; like NULL: the one made last. NULL when there
 * is none. Valid until the next change. */
const struct nod_mark *nod_recent_marks_find(const struct nod_recent_marks *recent,
					     const struct nod_mark *like);

/* Takes out a mark that nod_recent_marks_find() gave. */
void nod_recent_marks_remove(struct nod_recent_marks *recent, const struct nod_mark *mark);

#endif
