/* SPDX-License-Identifier: MIT */
/* Shared by the files that find the levels of a current. */
#ifndef NOD_CURRENT_LEVELS_INTERNAL_H
#define NOD_CURRENT_LEVELS_INTERNAL_H

#include "current-levels.h"

/* Cells on either side that are compared at an edge: at least and at most. */
#define NOD_EDGE_LEAST 3
#define NOD_EDGE_MOST 30

struct nod_levels_work {
	const struct nod_current_cell *cells;
	size_t n, edge;
	nod_duration length;
	double *y;
	struct nod_levels *out;
};

/* Median of up to `most` cells outside excursions, from `at` on (forward) or before it; never
 * leaves [low, high). *count becomes how many there were. */
double nod_levels_local_median(const struct nod_levels_work *w, size_t at, bool forward, size_t low,
			       size_t high, size_t most, size_t *count);

/* Noise right there: the estimate of the block, or more when the cells next to the edge show
 * more. */
double nod_levels_local_noise(const struct nod_levels_work *w, size_t at, bool forward, size_t low,
			      size_t high);

/* Change from level a to level b where they meet. */
void nod_levels_measure_edge(const struct nod_levels_work *w, const struct nod_level *a,
			     struct nod_level *b);

/* How often the change exceeds what it must be to count; below 1 it is none. */
double nod_levels_edge_strength(const struct nod_level *a, const struct nod_level *b);

#endif
