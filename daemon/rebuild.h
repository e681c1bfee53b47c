/* SPDX-License-Identifier: MIT */
/* A new analysis of the session that is being recorded, made from its recording while the
 * old one goes on: after a mark that comes late or is taken back, the answer must be the
 * one that the recording will give.
 *
 * It reads what was on the disk when it began, a piece at a time so that nothing else has
 * to wait, and then takes what happened meanwhile, which is kept for it. */
#ifndef NOD_REBUILD_H
#define NOD_REBUILD_H

#include "engine.h"
#include "error.h"
#include "event.h"
#include "source.h"

/* Events kept at most. Chosen: a minute of a full 500 kbit/s network (4500 short frames a
 * second), 30 MB; a day's recording is read in a third of that. */
#define NOD_REBUILD_KEPT_MAX 270000

struct nod_rebuild;

/* Begins to read the session in `directory`, of which `frames` frames and `samples` samples
 * of the current are on the disk, all of them. `engine`: fresh, taken over when this
 * succeeds; `interfaces` as it knows them. NULL with errno and err set. */
struct nod_rebuild *nod_rebuild_begin(const char *directory, struct nod_engine *engine,
				      const struct nod_interfaces *interfaces, uint64_t frames,
				      uint64_t samples, struct nod_error *err);

/* Keeps an event that happened meanwhile. 0, -ENOMEM or -ENOBUFS: give it up. */
int nod_rebuild_keep(struct nod_rebuild *rebuild, const struct nod_event *event);

/* Goes on by about so many events. Returns 1 while there is more, 0 when the engine has
 * everything, or a negative errno with err set. */
int nod_rebuild_step(struct nod_rebuild *rebuild, size_t events, struct nod_error *err);

/* Gives the engine out; the rebuild can only be freed then. */
struct nod_engine *nod_rebuild_engine(struct nod_rebuild *rebuild);

void nod_rebuild_free(struct nod_rebuild *rebuild);

#endif
