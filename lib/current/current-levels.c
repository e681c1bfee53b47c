/* SPDX-License-Identifier: MIT */
#include "current-levels-internal.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "changepoint.h"
#include "robust.h"

/* Cells whose differences make one noise estimate: it is then good to about
 * 15 %. Chosen. */
#define NOISE_BLOCK 128

/* Noise is not believed to be smaller: a trace of whole milliamps that does
 * not move has this much (1 mA / sqrt(12)). */
#define NOISE_LEAST_UA 300.0

/* Penalty of a change in units of ln n (2 is the classical information
 * criterion; 3 gave no false alarm on published quality-control series). */
#define PENALTY_FACTOR 3.0

/* The mean of a pulse over its base must be this many standard errors. */
#define PULSE_SIGMAS 6.0

/* What is compared at an edge: the minute on either side. */
#define EDGE_S 60

/* A dip is only one when it is so much shorter than the level around it;
 * otherwise the low part is the level and the high part the pulse. */
#define DIP_SHARE 0.25

/* Segments one pulse may consist of; bounds the time spent. Chosen. */
#define PULSE_PARTS 32

static double seconds_between(const struct nod_levels_work *w, size_t first, size_t end)
{
	nod_time to = end < w->n ? w->cells[end].first
				 : nod_time_after(w->cells[w->n - 1].first, w->length);

	return (double)nod_time_since(to, w->cells[first].first).ns / 1e9;
}

static int estimate_noise(struct nod_levels_work *w)
{
	double room[NOISE_BLOCK], *copy = malloc(w->n * sizeof(*copy));

	if (!copy)
		return -ENOMEM;
	for (size_t from = 0; from < w->n; from += NOISE_BLOCK) {
		size_t count = w->n - from < NOISE_BLOCK ? w->n - from : NOISE_BLOCK;
		/* a short rest shares the estimate of the cells before it */
		size_t begin = from && count < NOISE_BLOCK ? w->n - NOISE_BLOCK : from;
		size_t width = begin == from ? count : NOISE_BLOCK;
		double sigma = fmax(nod_noise_sigma(w->y + begin, width, room), NOISE_LEAST_UA);
		for (size_t i = from; i < from + count; i++)
			w->out->sigma[i] = copy[i] = sigma;
	}
	w->out->noise = nod_median(copy, w->n);
	free(copy);
	return 0;
}

static int settle_level(const struct nod_levels_work *w, struct nod_level *level)
{
	double *values = malloc((level->end - level->first) * sizeof(*values));
	size_t used = 0;

	if (!values)
		return -ENOMEM;
	for (size_t i = level->first; i < level->end; i++)
		if (!w->out->outside[i])
			values[used++] = w->y[i];
	level->cells = used;
	level->value = nod_median(values, used);
	free(values);
	size_t middle = level->first + (level->end - level->first) / 2;
	level->noise = w->out->sigma[middle];
	return 0;
}

/* The exact partition. */
static int partition(struct nod_levels_work *w)
{
	struct nod_partition parts;
	double penalty = PENALTY_FACTOR * log((double)w->n + 1);
	int rc = nod_partition_find(&parts, w->y, w->out->sigma, w->n, penalty, 1);

	if (rc)
		return rc;
	w->out->levels = calloc(parts.count, sizeof(*w->out->levels));
	w->out->excursions = calloc(parts.count, sizeof(*w->out->excursions));
	if (w->out->levels && w->out->excursions)
		w->out->count = parts.count;
	else
		rc = -ENOMEM;
	for (size_t i = 0; !rc && i < parts.count; i++) {
		w->out->levels[i].first = i ? parts.ends[i - 1] : 0;
		w->out->levels[i].end = parts.ends[i];
		rc = settle_level(w, &w->out->levels[i]);
	}
	nod_partition_free(&parts);
	return rc;
}

static int merge_at(struct nod_levels_work *w, size_t i)
{
	struct nod_level *levels = w->out->levels;

	levels[i - 1].end = levels[i].end;
	memmove(levels + i, levels + i + 1, (w->out->count - i - 1) * sizeof(*levels));
	w->out->count--;
	if (settle_level(w, &levels[i - 1]))
		return -ENOMEM;
	if (i > 1)
		nod_levels_measure_edge(w, &levels[i - 2], &levels[i - 1]);
	if (i < w->out->count)
		nod_levels_measure_edge(w, &levels[i - 1], &levels[i]);
	return 0;
}

/* The weakest change goes first until every one can be seen at its place: what
 * is left of a staircase that PELT made of a slow wander is one level. */
static int drop_drift(struct nod_levels_work *w)
{
	struct nod_level *levels = w->out->levels;

	for (size_t i = 1; i < w->out->count; i++)
		nod_levels_measure_edge(w, &levels[i - 1], &levels[i]);
	for (;;) {
		size_t weakest = 0;
		double least = 1;
		for (size_t i = 1; i < w->out->count; i++) {
			double strength = nod_levels_edge_strength(&levels[i - 1], &levels[i]);
			if (strength < least) {
				least = strength;
				weakest = i;
			}
		}
		if (!weakest)
			return 0;
		if (merge_at(w, weakest))
			return -ENOMEM;
	}
}

/* Is cells [first, end) between a and b an excursion that comes back? */
static bool comes_back(const struct nod_levels_work *w, const struct nod_level *a,
		       struct nod_level b)
{
	double pulse = seconds_between(w, a->end, b.first), sum = 0;
	size_t count;

	nod_levels_measure_edge(w, a, &b);
	if (nod_levels_edge_strength(a, &b) >= 1)
		return false;
	double base = nod_levels_local_median(w, a->end, false, a->first, a->end, w->edge, &count);
	for (size_t i = a->end; i < b.first; i++)
		sum += w->y[i] - base;
	if (sum > 0)
		return true;
	return pulse <= DIP_SHARE * seconds_between(w, a->first, a->end) &&
	       pulse <= DIP_SHARE * seconds_between(w, b.first, b.end);
}

static void add_excursion(struct nod_levels_work *w, size_t first, size_t end, size_t level)
{
	struct nod_levels *out = w->out;

	memset(out->outside + first, true, end - first);
	out->excursions[out->excursion_count++] = (struct nod_excursion){first, end, level, 0};
}

/* The part after part i at which the current is back at level a; 0: none. */
static size_t way_back(const struct nod_levels_work *w, const struct nod_level *a, size_t i,
		       size_t count)
{
	const struct nod_level *parts = w->out->levels;

	for (size_t back = i + 1; back < count && back <= i + PULSE_PARTS; back++) {
		if (seconds_between(w, a->end, parts[back].first) > NOD_PULSE_LONGEST_S)
			break;
		if (comes_back(w, a, parts[back]))
			return back;
	}
	return 0;
}

/* Short excursions that come back become pulses of the level they left. */
static void fold_pulses(struct nod_levels_work *w)
{
	struct nod_level *parts = w->out->levels;
	size_t kept = 1, count = w->out->count;

	for (size_t i = 1; i < count;) {
		struct nod_level *a = &parts[kept - 1];
		size_t back = way_back(w, a, i, count);
		if (back) {
			add_excursion(w, a->end, parts[back].first, kept - 1);
			a->end = parts[back].end;
			i = back + 1;
		} else {
			parts[kept++] = parts[i++];
		}
	}
	w->out->count = kept;
}

static void renumber(struct nod_levels_work *w)
{
	size_t level = 0;

	for (size_t i = 0; i < w->out->excursion_count; i++) {
		struct nod_excursion *e = &w->out->excursions[i];
		while (level + 1 < w->out->count && w->out->levels[level].end <= e->first)
			level++;
		e->level = level;
	}
}

/* What is too short to be a level is the way between its neighbours. */
static void drop_short(struct nod_levels_work *w)
{
	struct nod_level *levels = w->out->levels;
	size_t kept = 0;

	for (size_t i = 0; i < w->out->count; i++) {
		bool edge = i + 1 == w->out->count || (!i && w->out->count == 1);
		if (!edge &&
		    seconds_between(w, levels[i].first, levels[i].end) < NOD_LEVEL_SHORTEST_S)
			memset(w->out->outside + levels[i].first, true,
			       levels[i].end - levels[i].first);
		else
			levels[kept++] = levels[i];
	}
	w->out->count = kept;
}

/* Base and noise around an excursion; false when it is too small to be one. */
static bool judge_excursion(const struct nod_levels_work *w, struct nod_excursion *e)
{
	const struct nod_level *l = &w->out->levels[e->level];
	size_t before, after, n = e->end - e->first;
	double a = nod_levels_local_median(w, e->first, false, l->first, l->end, w->edge, &before);
	double b = nod_levels_local_median(w, e->end, true, l->first, l->end, w->edge, &after);
	double noise = nod_levels_local_noise(w, e->first, false, l->first, l->end), height = 0;

	e->base = before && after ? (a + b) / 2 : before ? a : after ? b : l->value;
	for (size_t i = e->first; i < e->end; i++)
		height += (w->y[i] - e->base) / (double)n;
	double least = fmax(NOD_STEP_LEAST_UA, NOD_STEP_LEAST_SHARE * fabs(e->base));
	return fabs(height) >= fmax(least, PULSE_SIGMAS * noise / sqrt((double)n));
}

/* What is no pulse after all belongs to its level again. */
static void judge_excursions(struct nod_levels_work *w)
{
	struct nod_levels *out = w->out;
	size_t kept = 0;

	for (size_t i = 0; i < out->excursion_count; i++) {
		struct nod_excursion e = out->excursions[i];
		if (judge_excursion(w, &e))
			out->excursions[kept++] = e;
		else
			memset(out->outside + e.first, false, e.end - e.first);
	}
	out->excursion_count = kept;
}

static int settle_all(struct nod_levels_work *w)
{
	int rc = 0;

	for (size_t i = 0; !rc && i < w->out->count; i++)
		rc = settle_level(w, &w->out->levels[i]);
	return rc;
}

static int find(struct nod_levels_work *w)
{
	int rc = estimate_noise(w);

	if (!rc)
		rc = partition(w);
	if (!rc)
		rc = drop_drift(w);
	if (rc)
		return rc;
	fold_pulses(w);
	drop_short(w);
	rc = settle_all(w);
	if (!rc)
		rc = drop_drift(w);
	renumber(w);
	judge_excursions(w);
	return rc ? rc : settle_all(w);
}

int nod_levels_find(struct nod_levels *result, const struct nod_current_cell *cells, size_t n,
		    nod_duration length)
{
	struct nod_levels_work w = {.cells = cells, .n = n, .length = length, .out = result};
	double edge = EDGE_S * 1e9 / (double)length.ns;
	int rc = -ENOMEM;

	*result = (struct nod_levels){0};
	if (!n)
		return 0;
	w.edge = edge > NOD_EDGE_MOST    ? NOD_EDGE_MOST
		 : edge < NOD_EDGE_LEAST ? NOD_EDGE_LEAST
					 : (size_t)edge;
	w.y = calloc(n, sizeof(*w.y));
	result->sigma = calloc(n, sizeof(*result->sigma));
	result->outside = calloc(n, sizeof(*result->outside));
	for (size_t i = 0; w.y && i < n; i++)
		w.y[i] = cells[i].typical;
	if (w.y && result->sigma && result->outside)
		rc = find(&w);
	free(w.y);
	if (rc)
		nod_levels_free(result);
	return rc;
}

void nod_levels_free(struct nod_levels *levels)
{
	free(levels->levels);
	free(levels->excursions);
	free(levels->outside);
	free(levels->sigma);
	*levels = (struct nod_levels){0};
}
