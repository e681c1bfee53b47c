/* SPDX-License-Identifier: MIT */
/* The recordings of a folder that an index lacks are read, each in a process of its own: one that
 * crashes is one that cannot be read. */
#ifndef NOD_CARS_READ_H
#define NOD_CARS_READ_H

#include "cars-index.h"
#include "judged.h"

/* What is kept of a recording that was judged with the option `vin`. 0 or -ENOMEM. */
int nod_cars_describe(struct nod_car *car, struct nod_arena *arena, const struct nod_judged *judged,
		      const char *path);

/* Ctrl-C ends it early, with what was read so far. Returns an exit status. */
int nod_cars_read(struct nod_cars_index *index, const struct nod_cars_sessions *missing);

#endif
