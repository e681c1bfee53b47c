/* SPDX-License-Identifier: MIT */
/* The current beside the networks: how much current goes with each of them,
 * how much of the drain that explains, and what flows while all of them sleep.
 *
 * Only changes are used: the current right after a network woke or fell asleep
 * against the current right before. A clamp's wander is not in them, nor what
 * flows anyway. Networks that always change together cannot be told apart and
 * share one figure. All times are on the clock of the frames. */
#ifndef NOD_CURRENT_JOIN_H
#define NOD_CURRENT_JOIN_H

#include <stdbool.h>
#include <stddef.h>

#include "current-trace.h"

/* Changes of networks within this time are one event: networks of one car
 * follow each other. Chosen: longer than wait-bus-sleep times of published
 * example sets (5 s). */
#define NOD_JOIN_TOGETHER_S 10

/* The current is called that of a sleeping car when no network was awake for
 * so long in all, beginning so long after the last one fell asleep. Chosen:
 * modules power down some seconds after their bus. */
#define NOD_ASLEEP_SHORTEST_S 60
#define NOD_ASLEEP_AFTER_S 15

/* One stretch of a network being awake. network -1: a stretch in which nobody
 * knows (nobody listened, frames were lost): it counts as not asleep and is
 * attributed to no one. */
struct nod_awake_span {
	int network; /* 0 .. network_count - 1, or -1 */
	nod_time from, to;
};

/* What goes with one network. */
struct nod_network_current {
	bool known;
	double ua;             /* the current rises by so much when it wakes */
	double uncertainty_ua; /* either way, about 95 % */
	size_t events;         /* changes it was worked out from */
	int group;             /* networks with the same number share ua; -1: not known */
	nod_duration awake;    /* since the lock, while the current was measured */
	double charge_uah;     /* ua x awake; in a group given to its first network */
};

/* One event: networks woke or fell asleep. */
struct nod_join_event {
	nod_time from, to;  /* first and last of its changes */
	size_t woke, slept; /* networks */
	int first;          /* the network that changed first */
	bool measured;      /* there was enough current around it */
	double change_ua, uncertainty_ua;
};

struct nod_current_join {
	struct nod_network_current *networks;
	size_t network_count;
	struct nod_join_event *events; /* in time order */
	size_t event_count;

	double charge_uah;    /* since the lock, as measured */
	double explained_uah; /* of it, by networks being awake */
	double explained_uncertainty_uah;
	bool explained_all; /* every network that was awake has a known current */

	bool asleep_known;
	nod_duration asleep; /* time with all networks asleep that was looked at */
	double asleep_ua, asleep_uncertainty_ua;
};

/* Memory belongs to the arena. until: end of what was listened to. Returns
 * NULL when memory ran out. */
struct nod_current_join *nod_current_join_find(const struct nod_current_trace *trace,
					       const struct nod_awake_span *spans,
					       size_t span_count, size_t network_count,
					       nod_time lock, nod_time until, int64_t wander_ua,
					       struct nod_arena *arena);

enum nod_asleep_verdict {
	NOD_ASLEEP_UNKNOWN, /* not long enough asleep while the current was measured */
	NOD_ASLEEP_DRAWS,   /* above the limit, whatever the clamp is off: to the fuses */
	NOD_ASLEEP_FINE,    /* below the limit, whatever the clamp is off */
	NOD_ASLEEP_DOUBT    /* the limit is within the uncertainty: zero the clamp, or a shunt */
};

enum nod_asleep_verdict nod_current_join_asleep(const struct nod_current_join *join,
						int64_t limit_ua);

#endif
