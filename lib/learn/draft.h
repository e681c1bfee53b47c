/* SPDX-License-Identifier: MIT */
/* A first vehicle file from a recording: every ID that was heard, grouped by
 * what seems to belong together, with what it looks like, for a person to
 * name. What it writes passes the loader. */
#ifndef NOD_DRAFT_H
#define NOD_DRAFT_H

#include <stdio.h>

#include "event.h"
#include "source.h"

struct nod_draft;

/* NULL when there is no memory. */
struct nod_draft *nod_draft_new(void);
void nod_draft_free(struct nod_draft *draft);

/* More IDs than this are counted, not listed: far above any car, and below
 * what a vehicle file may hold. Chosen. */
#define NOD_DRAFT_IDS_MAX 9000

/* Takes an event; only data and remote frames matter. 0 or -ENOMEM. */
int nod_draft_take(struct nod_draft *draft, const struct nod_event *event);

/* Writes the file. `names` are those of the source. Returns 0, -ENOMEM, -EIO,
 * or -ENODATA when there was no frame (nothing is written then). */
int nod_draft_write(struct nod_draft *draft, const struct nod_interfaces *names, FILE *out);

#endif
