/* SPDX-License-Identifier: MIT */
/* The cells of a current trace as levels with pulses in them.
 *
 * Plain change-point search does not fit a parked car: a telematics unit that
 * reports every ten minutes makes two changes each time, a wandering clamp
 * makes staircases, and an awake car is noisier than a sleeping one. A loss
 * that forgives outliers would hide the pulses, which are wanted. So the exact
 * partition (changepoint.h) is kept as the first step and its segments are
 * judged:
 *   1. noise is estimated locally, so that the noise of an awake car does not
 *      hide a step of a sleeping one, nor the other way round;
 *   2. a change that cannot be seen right at its place, in the minute before
 *      against the minute after, is drift and no step;
 *   3. a short excursion that comes back to where it left is a pulse, its
 *      level goes on;
 *   4. what is too short to be a level is the way from one to the next.
 * A short cycle therefore comes out as pulses with a period on one level, not
 * as levels. */
#ifndef NOD_CURRENT_LEVELS_H
#define NOD_CURRENT_LEVELS_H

#include <stdbool.h>
#include <stddef.h>

#include "current-trace.h"

/* An excursion that lasts longer is a level of its own. Chosen: longer than a
 * reporting telematics unit (45 s published) and most wake-ups, shorter than
 * anything called settled. */
#define NOD_PULSE_LONGEST_S 300

/* Shorter levels are the way between two others. Chosen. */
#define NOD_LEVEL_SHORTEST_S 10

/* Smaller changes are not called steps however quiet the trace is. Chosen:
 * three counts of a clamp that shows whole milliamps; and this share of the
 * level, for the gain of a clamp is not steadier. */
#define NOD_STEP_LEAST_UA 3000.0
#define NOD_STEP_LEAST_SHARE 0.02

struct nod_level {
	size_t first, end; /* cells, half open; the cells of pulses inside are marked */
	double value;      /* median of the cells outside pulses */
	double noise;      /* local noise of one cell */
	size_t cells;      /* outside pulses */
	/* Change from the level before, right at the edge, and two standard
	 * errors of it; 0 for the first. */
	double change, change_error;
};

struct nod_excursion {
	size_t first, end;
	size_t level; /* it belongs to */
	double base;  /* median of that level right before and after it */
};

struct nod_levels {
	struct nod_level *levels;
	size_t count;
	struct nod_excursion *excursions;
	size_t excursion_count;
	bool *outside; /* per cell: in an excursion or between two levels */
	double *sigma; /* per cell: noise */
	double noise;  /* median of sigma */
};

/* `length` is that of a cell. Returns 0 or -ENOMEM. */
int nod_levels_find(struct nod_levels *result, const struct nod_current_cell *cells, size_t n,
		    nod_duration length);

void nod_levels_free(struct nod_levels *levels);

#endif
