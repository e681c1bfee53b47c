/* SPDX-License-Identifier: MIT */
/* How the current changes where two levels meet. */
#include "current-levels-internal.h"

#include <math.h>

#include "robust.h"

/* A change must be this many standard errors at its place. Chosen: one false
 * step in some million edges of normal noise. */
#define EDGE_SIGMAS 5.0

/* The standard error of a median of normal values, over that of a mean. */
#define MEDIAN_ERROR 1.2533

/* Median of up to `most` cells outside excursions, from `at` on (forward) or
 * before it; never leaves [low, high). *count becomes how many there were. */
double nod_levels_local_median(const struct nod_levels_work *w, size_t at, bool forward, size_t low,
			       size_t high, size_t most, size_t *count)
{
	double values[NOD_EDGE_MOST];
	size_t used = 0;

	for (size_t i = at; used < most && (forward ? i < high : i > low); forward ? i++ : i--) {
		size_t cell = forward ? i : i - 1;
		if (!w->out->outside[cell])
			values[used++] = w->y[cell];
	}
	*count = used;
	return nod_median(values, used);
}

/* Noise right there: the estimate of the block, or more when the cells next to
 * the edge show more (the block may lie across the edge). */
double nod_levels_local_noise(const struct nod_levels_work *w, size_t at, bool forward, size_t low,
			      size_t high)
{
	double values[NOD_EDGE_MOST], room[NOD_EDGE_MOST];
	size_t used = 0;

	for (size_t i = at; used < NOD_EDGE_MOST && (forward ? i < high : i > low);
	     forward ? i++ : i--) {
		size_t cell = forward ? i : i - 1;
		if (!w->out->outside[cell])
			values[used++] = w->y[cell];
	}
	double seen = used < NOD_EDGE_LEAST ? 0 : nod_noise_sigma(values, used, room);
	return fmax(seen, w->out->sigma[forward ? at : at - 1]);
}

/* Change from level a to level b where they meet. */
void nod_levels_measure_edge(const struct nod_levels_work *w, const struct nod_level *a,
			     struct nod_level *b)
{
	size_t na, nb;
	double before = nod_levels_local_median(w, a->end, false, a->first, a->end, w->edge, &na);
	double after = nod_levels_local_median(w, b->first, true, b->first, b->end, w->edge, &nb);
	double sa = nod_levels_local_noise(w, a->end, false, a->first, a->end);
	double sb = nod_levels_local_noise(w, b->first, true, b->first, b->end);

	b->change = after - before;
	b->change_error = MEDIAN_ERROR * sqrt(sa * sa / (double)na + sb * sb / (double)nb);
}

/* How often the change exceeds what it must be to count; below 1 it is none. */
double nod_levels_edge_strength(const struct nod_level *a, const struct nod_level *b)
{
	double level = fmin(fabs(a->value), fabs(b->value));
	double least = fmax(NOD_STEP_LEAST_UA, NOD_STEP_LEAST_SHARE * level);

	return fabs(b->change) / fmax(least, EDGE_SIGMAS * b->change_error);
}
