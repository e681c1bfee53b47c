/* SPDX-License-Identifier: MIT */
/* What wake-ups cost. Internal to the judging. */
#ifndef NOD_WAKES_COST_H
#define NOD_WAKES_COST_H

#include "analysis.h"

/* Of one network, nanoseconds. */
struct nod_wake_tally {
	int64_t woken;  /* awake in spans that nothing in the journal explains */
	int64_t asleep; /* silence listened to since the first sleep */
};

struct nod_wake_cost {
	bool measured; /* by the battery current; else what an awake car takes */
	double mah_a_day;
};

/* The wake-ups of this network that nothing explains take enough to flatten a battery. */
bool nod_analysis_wakes_matter(const struct nod_analysis *a, const struct nod_network_finding *n,
			       const struct nod_wake_tally *tally);

/* ", for 40 s in all: 0.3 % of the time watched, about 240 mAh a day as measured" */
const char *nod_analysis_wakes_cost(struct nod_analysis *a, const struct nod_network_finding *n,
				    const struct nod_wake_tally *tally);

/* network-verdict.c: the span began with a wake-up, and nothing explains it. */
bool nod_analysis_is_unexplained_wake(const struct nod_analysis *a, int network,
				      const struct nod_span_finding *span);

#endif
