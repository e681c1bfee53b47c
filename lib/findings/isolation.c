/* SPDX-License-Identifier: MIT */
#include "isolation.h"

#include <math.h>

enum nod_presence nod_presence_of(double due, double heard, double least)
{
	if (due < least)
		return NOD_PRESENCE_UNKNOWN;
	return heard <= NOD_OFF_SHARE * due  ? NOD_PRESENCE_OFF
	       : heard >= NOD_ON_SHARE * due ? NOD_PRESENCE_ON
					     : NOD_PRESENCE_UNKNOWN;
}

/* The first span that ends after `from`: spans are in order. */
static size_t first_span(const struct nod_network_finding *n, int64_t from)
{
	size_t low = 0, high = n->span_count;

	while (low < high) {
		size_t middle = (low + high) / 2;
		if (n->spans[middle].to.ns <= from)
			low = middle + 1;
		else
			high = middle;
	}
	return low;
}

int64_t nod_network_awake(const struct nod_network_finding *n, int64_t from, int64_t to)
{
	int64_t total = 0;

	for (size_t i = first_span(n, from); i < n->span_count; i++) {
		const struct nod_span_finding *span = &n->spans[i];
		if (span->from.ns >= to)
			break;
		int64_t a = span->from.ns > from ? span->from.ns : from;
		int64_t b = span->to.ns < to ? span->to.ns : to;
		total = nod_ns_add(total, b > a ? b - a : 0);
	}
	return total;
}

double nod_missed_by_chance(double missed, uint64_t long_ones, uint64_t intervals)
{
	double longer = ((double)long_ones + 1) / ((double)intervals + 2);

	return longer * pow(0.5, missed - 1);
}
