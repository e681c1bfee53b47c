/* SPDX-License-Identifier: MIT */
/* How far each ID had come when something was isolated or refitted. Internal
 * to the engine. */
#ifndef NOD_SNAPSHOT_H
#define NOD_SNAPSHOT_H

#include "track.h"

struct nod_engine;

/* How far one ID had come. */
struct nod_snapshot_ident {
	uint64_t frames;
	uint32_t span;              /* serial of the awake span it last spoke in */
	struct nod_held_ident held; /* its last frame, request and readiness then */
};

struct nod_snapshot {
	int mark;                           /* index into marks */
	struct nod_snapshot_ident **idents; /* by track, by ident */
	uint32_t *counts;                   /* idents of each track then */
	uint32_t *serials;                  /* awake span of each track then */
	size_t tracks;
};

/* Fills in what is true now; an empty one (all zero), or one filled before, whose memory is
 * used again. 0 or -ENOMEM (it is empty then). */
int nod_snapshot_fill(struct nod_snapshot *snapshot, const struct nod_engine *engine);
void nod_snapshot_clear(struct nod_snapshot *snapshot);

/* Keeps a snapshot, which is taken over, for the mark with this index. 0, -ENOMEM, or
 * -ENOSPC when there are too many. */
int nod_snapshot_keep(struct nod_engine *engine, struct nod_snapshot *snapshot, int mark);

/* Takes one of now for the mark with this index. As above. */
int nod_snapshot_take(struct nod_engine *engine, int mark);

void nod_snapshots_clear(struct nod_engine *engine);

#endif
