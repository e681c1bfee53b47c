/* SPDX-License-Identifier: MIT */
/* What isolations.c counts, and how it is shown. */
#ifndef ISOLATIONS_SCORE_H
#define ISOLATIONS_SCORE_H

#include <stdio.h>
#include <stdlib.h>

#define CASES_MAX 4096

enum outcome { PROVED, WRONG, SILENT, TRIED_OUT, OUTCOMES };

struct score {
	unsigned cases, determined, outcomes[OUTCOMES];
	unsigned tries[CASES_MAX], order[CASES_MAX];
	unsigned long sum, sum_order, sum_determined, order_determined;
};

static inline int compare(const void *a, const void *b)
{
	const unsigned *x = a, *y = b;
	return (*x > *y) - (*x < *y);
}

static inline double median(unsigned *values, unsigned n)
{
	qsort(values, n, sizeof(*values), compare);
	return (values[(n - 1) / 2] + values[n / 2]) / 2.0;
}

static inline void print_score(const char *name, struct score *s)
{
	double n = s->cases;

	if (!s->cases)
		return;
	printf("%-24s %5u %6u %5u %6u %6u  %6.2f %6.1f  %6.2f %6.1f  %5.2f", name, s->cases,
	       s->outcomes[PROVED], s->outcomes[WRONG], s->outcomes[SILENT], s->outcomes[TRIED_OUT],
	       (double)s->sum / n, median(s->tries, s->cases), (double)s->sum_order / n,
	       median(s->order, s->cases), (double)s->sum / (double)s->sum_order);
	if (s->determined)
		printf("  %5u %6.2f %6.2f", s->determined,
		       (double)s->sum_determined / s->determined,
		       (double)s->order_determined / s->determined);
	printf("\n");
}

#endif
