/* SPDX-License-Identifier: MIT */
/* The index of a folder of recordings: what is kept of each, in a SQLite file in the person's
 * cache. It holds nothing that is not made anew from the recordings: it may be deleted at any time,
 * and several programs may use it at once. */
#ifndef NOD_CARS_INDEX_H
#define NOD_CARS_INDEX_H

#include <stdbool.h>

#include "car.h"
#include "cars-folder.h"

struct nod_cars_index;

/* Opens that of a folder, or makes it. One that is damaged is made anew; where none can be kept,
 * that is said and one is made that does not last. NULL after saying why. */
struct nod_cars_index *nod_cars_index_open(const char *folder);
void nod_cars_index_close(struct nod_cars_index *index);

/* Forgets what is not among these, and keeps only those in the list of which it does not have the
 * present state. 0 or -1 after saying why. */
int nod_cars_index_miss(struct nod_cars_index *index, struct nod_cars_sessions *sessions);

/* Puts one in; car NULL: it cannot be read. By a connection of its own: child processes may. 0 or
 * -1. */
int nod_cars_index_put(const struct nod_cars_index *index, const struct nod_cars_session *session,
		       const struct nod_car *car);

/* All that it holds, by path, in the arena. 0 or -1 after saying why. */
int nod_cars_index_load(struct nod_cars_index *index, struct nod_arena *arena,
			struct nod_car **cars, size_t *count, unsigned *unread);

#endif
