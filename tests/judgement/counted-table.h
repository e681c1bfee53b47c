/* SPDX-License-Identifier: MIT */
/* A table of evidence that is counted: how often each outcome of each facet was seen of
 * causes and of followers. See counted.c. */
#ifndef COUNTED_TABLE_H
#define COUNTED_TABLE_H

#include <stdio.h>

#define FACETS 5
#define OUTCOMES 6

enum { FACET_MANAGEMENT, FACET_PRESENCE, FACET_DATA, FACET_WAKES, FACET_ISOLATION };

struct table {
	double seen[2][FACETS][OUTCOMES]; /* 0: followers, 1: causes */
	double all[2];
	unsigned sessions;
};

/* What was counted, for the head of the table. */
struct counted_over {
	unsigned world;
	unsigned long long first, seeds;
};

/* P(seen | cause or follower) by Laplace's rule. */
double table_probability(const struct table *table, int cause, int facet, int outcome);

/* -1 for an error that was said; 0. Adds to what the table has: every row holds its counts, so that
 * several files add up, a workshop's own solved cars among them. */
int table_read(const char *path, struct table *table);

void table_print(FILE *out, const struct table *table, const struct counted_over *over);

/* 0 when the file says what was counted. */
int table_check(const char *path, const struct table *table, const struct counted_over *over);

#endif
