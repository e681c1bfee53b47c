/* SPDX-License-Identifier: MIT */
/* Memory that is given back all at once: the findings of one analysis and
 * their texts live in one arena. */
#ifndef NOD_ARENA_H
#define NOD_ARENA_H

#include <stddef.h>

struct nod_arena {
	struct nod_arena_block *blocks;
	int failed; /* an allocation failed since the arena was set up */
};

/* Zeroed memory for any type, or NULL. Owned by the arena. */
void *nod_arena_alloc(struct nod_arena *arena, size_t size);

/* A formatted string, "" when memory ran out (and arena->failed is set). */
__attribute__((format(printf, 2, 3))) const char *nod_arena_printf(struct nod_arena *arena,
								   const char *format, ...);

void nod_arena_free(struct nod_arena *arena);

#endif
