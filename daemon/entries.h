/* SPDX-License-Identifier: MIT */
/* The journal entries that a person made in this recording, as far as they can still be
 * taken back or changed: the latest ones, in the order in which they were made. */
#ifndef NOD_ENTRIES_H
#define NOD_ENTRIES_H

#include <stdbool.h>
#include <stddef.h>

#include "journal.h"

/* Chosen: more than anybody takes back one after the other. */
#define NOD_ENTRIES_MAX 256

struct nod_entries {
	struct nod_mark list[NOD_ENTRIES_MAX]; /* subjects are owned */
	size_t count;
	bool starved; /* one is missing for want of memory */
};

void nod_entries_clear(struct nod_entries *entries);

/* Adds a copy; the oldest makes room. An entry that no person makes is left out.
 * -ENOMEM: it cannot be taken back or changed. */
int nod_entries_add(struct nod_entries *entries, const struct nod_mark *mark);

/* The entry with this time, kind and subject; like NULL: the one made last. NULL when there
 * is none. Valid until the next change. */
const struct nod_mark *nod_entries_find(const struct nod_entries *entries,
					const struct nod_mark *like);

/* Takes out an entry that nod_entries_find() gave. */
void nod_entries_remove(struct nod_entries *entries, const struct nod_mark *entry);

#endif
