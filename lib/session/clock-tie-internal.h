/* SPDX-License-Identifier: MIT */
/* What clock-tie-side.c keeps of a recording and clock-tie.c compares. */
#ifndef NOD_CLOCK_TIE_INTERNAL_H
#define NOD_CLOCK_TIE_INTERNAL_H

#include "clock-tie.h"

/* One payload of one ID, or one mark of the journal, and when it came. */
struct nod_tie_item {
	uint64_t key; /* hash of ID and payload, or of kind and subject; 0: free */
	int64_t times[NOD_TIE_TIMES];
	unsigned count; /* NOD_TIE_TIMES + 1: too often */
};

/* Wake-ups that are kept: a car that wakes every minute has so many in four hours. */
#define NOD_TIE_WAKES 256

/* A hash table with open addressing; room is a power of two. */
struct nod_tie_table {
	struct nod_tie_item *items;
	size_t room, used;
};

struct nod_tie_side {
	nod_time heard[NOD_INTERFACES_MAX]; /* last; 0: never */
	int64_t wakes[NOD_TIE_WAKES];
	size_t wake_count;
	struct nod_tie_table payloads, marks;
	struct nod_tie_table contents; /* payloads whatever their ID: a gateway may have its own */
	struct nod_tie_table ids; /* by ID: times[0] has a bit for each interface that heard it */
	struct nod_tie_table
		last; /* by interface and ID: times[0] is the key of its last payload */
};

/* NULL when there is none. */
const struct nod_tie_item *nod_tie_item_find(const struct nod_tie_table *table, uint64_t key);

#endif
