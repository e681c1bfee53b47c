/* SPDX-License-Identifier: MIT */
#include "changepoint.h"

#include <errno.h>
#include <math.h>
#include <stdint.h>
#include <stdlib.h>

/* Sums over the values before an index, weighted by 1 / sigma^2. */
struct sums {
	double w, wy, wyy;
};

struct candidate {
	uint32_t start;
	uint32_t dies; /* beaten: not needed from this end on; UINT32_MAX: alive */
};

struct search {
	struct sums *sums;      /* n + 1 */
	double *best;           /* cost of the best partition of the first i values */
	uint32_t *previous;     /* start of its last segment */
	struct candidate *live; /* starts that may still win */
	size_t live_count, n, minimum;
	double penalty;
};

static double segment_cost(const struct search *s, size_t from, size_t to)
{
	const struct sums *a = &s->sums[from], *b = &s->sums[to];
	double w = b->w - a->w, wy = b->wy - a->wy, cost = b->wyy - a->wyy - wy * wy / w;

	return cost > 0 ? cost : 0; /* rounding */
}

/* The mean is taken off first so that the sums keep their digits. */
static void fill_sums(struct sums *sums, const double *y, const double *sigma, size_t n)
{
	double mean = 0;

	for (size_t i = 0; i < n; i++)
		mean += y[i] / (double)n;
	sums[0] = (struct sums){0};
	for (size_t i = 0; i < n; i++) {
		double w = sigma ? 1 / (sigma[i] * sigma[i]) : 1, d = y[i] - mean;
		sums[i + 1] = (struct sums){sums[i].w + w, sums[i].wy + w * d,
					    sums[i].wyy + w * d * d};
	}
}

/* Best last segment that ends at `end`. */
static void relax(struct search *s, size_t end)
{
	double best = INFINITY;
	uint32_t start = 0;

	for (size_t i = 0; i < s->live_count; i++) {
		uint32_t from = s->live[i].start;
		double cost = s->best[from] + segment_cost(s, from, end) + s->penalty;
		if (cost < best) {
			best = cost;
			start = from;
		}
	}
	s->best[end] = best;
	s->previous[end] = start;
}

/* A start that is beaten at `end` without a penalty loses against a change at
 * `end` for every later end that leaves room for a segment in between. */
static void prune(struct search *s, size_t end)
{
	size_t kept = 0;

	for (size_t i = 0; i < s->live_count; i++) {
		struct candidate c = s->live[i];
		if (c.dies == UINT32_MAX &&
		    s->best[c.start] + segment_cost(s, c.start, end) > s->best[end])
			c.dies = (uint32_t)(end + s->minimum);
		if (c.dies > end + 1)
			s->live[kept++] = c;
	}
	s->live_count = kept;
}

static void search(struct search *s)
{
	s->best[0] = -s->penalty; /* the first segment is no change */
	s->live[s->live_count++] = (struct candidate){0, UINT32_MAX};
	for (size_t end = s->minimum; end <= s->n; end++) {
		if (end >= 2 * s->minimum)
			s->live[s->live_count++] = (struct candidate){(uint32_t)(end - s->minimum),
								      UINT32_MAX};
		relax(s, end);
		prune(s, end);
	}
}

static int collect(struct nod_partition *result, const struct search *s)
{
	size_t count = 0;

	for (size_t i = s->n; i; i = s->previous[i])
		count++;
	result->ends = calloc(count, sizeof(*result->ends));
	if (!result->ends)
		return -ENOMEM;
	result->count = count;
	result->cost = s->best[s->n];
	for (size_t i = s->n; i; i = s->previous[i])
		result->ends[--count] = i;
	return 0;
}

static int allocate(struct search *s)
{
	s->sums = calloc(s->n + 1, sizeof(*s->sums));
	s->best = calloc(s->n + 1, sizeof(*s->best));
	s->previous = calloc(s->n + 1, sizeof(*s->previous));
	s->live = calloc(s->n + 1, sizeof(*s->live));
	return s->sums && s->best && s->previous && s->live ? 0 : -ENOMEM;
}

int nod_partition_find(struct nod_partition *result, const double *y, const double *sigma, size_t n,
		       double penalty, size_t minimum)
{
	struct search s = {.n = n, .penalty = penalty, .minimum = minimum};

	*result = (struct nod_partition){0};
	if (!minimum || !(penalty >= 0))
		return -EINVAL;
	if (n > NOD_CHANGEPOINT_MAX)
		return -ERANGE;
	if (!n)
		return 0;
	if (minimum > n)
		s.minimum = n;
	int rc = allocate(&s);
	if (!rc) {
		fill_sums(s.sums, y, sigma, n);
		search(&s);
		rc = collect(result, &s);
	}
	free(s.sums);
	free(s.best);
	free(s.previous);
	free(s.live);
	return rc;
}

void nod_partition_free(struct nod_partition *partition)
{
	free(partition->ends);
	*partition = (struct nod_partition){0};
}
