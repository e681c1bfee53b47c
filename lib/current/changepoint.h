/* SPDX-License-Identifier: MIT */
/* Where the level of a series changes: optimal partition by PELT.
 *
 * Killick, Fearnhead, Eckley, "Optimal detection of changepoints with a
 * linear computational cost", JASA 107 (2012). The cost of a segment is
 * sum((y - mean)^2) / sigma^2, a change costs the penalty; the partition with
 * the least total is found exactly. Pruning only drops candidates that
 * provably never win: with a minimum segment m, a candidate beaten at s is
 * still kept until s + m, which the usual description leaves out.
 *
 * What plain PELT does not know is left to the caller: a periodic or drifting
 * series has no levels, and pulses are segments to it. current-levels.h says
 * how a current trace is prepared and its segments judged.
 *
 * Time is O(n) when changes are many and O(n^2) when there are none, memory
 * 40 bytes a value; n is bounded so that the worst case stays below about a
 * second. */
#ifndef NOD_CHANGEPOINT_H
#define NOD_CHANGEPOINT_H

#include <stddef.h>

#define NOD_CHANGEPOINT_MAX 20000

struct nod_partition {
	size_t *ends; /* index behind the last value of each segment, ascending; the last is n */
	size_t count; /* segments; 0 for n == 0 */
	double cost;  /* sum of the segment costs + penalty x (count - 1) */
};

/* Partitions y[0..n). sigma[i] > 0 is the standard deviation of the noise at
 * value i (weighted least squares); NULL: 1 everywhere. penalty >= 0 in units
 * of sigma^2. minimum >= 1: values a segment has at least; for n < 2 x minimum
 * there is one segment. Returns 0, -ENOMEM, -EINVAL or -ERANGE (n too large). */
int nod_partition_find(struct nod_partition *result, const double *y, const double *sigma, size_t n,
		       double penalty, size_t minimum);

void nod_partition_free(struct nod_partition *partition);

#endif
