/* SPDX-License-Identifier: MIT */
/* Which of the recordings in a folder say something of the one that is analysed. */
#ifndef NOD_RECALL_H
#define NOD_RECALL_H

#include "car.h"
#include "known.h"

/* A recording is of a like car from this likeness on; with the same title of map from the other
 * on, or where there are too few messages to tell: a title alone may be "my car". Chosen: of
 * 1200 pairs of the generator's cars of one kind 1177 are above it (the others hold little traffic
 * in common), of 5400 of two kinds none is above 0.1 (tests/judgement/families.c). Real cars of one
 * platform lie between. */
#define NOD_LIKE_MIN 0.7
#define NOD_LIKE_TITLE_MIN 0.4

/* What is wanted of it. */
struct nod_recall_wish {
	bool no_good;    /* a good recording is given already */
	bool no_earlier; /* so are earlier sessions */
	unsigned unread; /* recordings that could not be read */
};

/* Finds what is known of the recording described by `self`, whose findings are f. What is the
 * recording itself (its path), or of the same car or a like one at the same time (a copy, another
 * tap), is left out. A later recording tells of solved cars as well as an earlier one does, but is
 * not taken as good or earlier. Everything lives in the arena or the cars. 0 or -ENOMEM. */
int nod_recall(struct nod_known *known, struct nod_arena *arena, const struct nod_car *self,
	       const struct nod_findings *f, const struct nod_car *cars, size_t count,
	       const struct nod_recall_wish *wish);

/* A recording without a date (relative times count from 1970) is not put in an order. */
#define NOD_DATED_FROM_NS (INT64_C(946684800) * NOD_NS_PER_S) /* 2000-01-01 00:00:00 UTC */

#endif
