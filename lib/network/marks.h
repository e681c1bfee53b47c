/* SPDX-License-Identifier: MIT */
/* The marks that the engine keeps, in the order in which they count. Internal to the engine. */
#ifndef NOD_MARKS_H
#define NOD_MARKS_H

#include "findings.h"
#include "journal.h"

struct nod_engine;

/* Keeps one at the end; its subject is copied. 0, -ENOMEM, or -ENOSPC when there are too
 * many. */
int nod_marks_keep(struct nod_engine *engine, const struct nod_mark_finding *mark);

/* Adds one that nobody entered, in its place by time, with what goes with it: how far all
 * had come then, and the settle clock that it starts anew. When memory ran out it is left
 * out. */
void nod_marks_infer(struct nod_engine *engine, enum nod_mark_kind kind, const char *subject,
		     nod_time time, unsigned idents, unsigned unmapped);

/* The name of a fuse, else of a module, of the map; both NOD_NONE: words for neither. */
const char *nod_marks_part(const struct nod_engine *engine, int fuse, int module);

/* The map's own text for a fuse or module of that name; NULL when it has none. */
const char *nod_marks_name(const struct nod_engine *engine, const char *subject);

#endif
