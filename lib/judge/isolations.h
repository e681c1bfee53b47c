/* SPDX-License-Identifier: MIT */
/* An isolation in the journal while it is judged: an experiment with a before, a during
 * and, when it was refitted, an after. Internal.
 *
 * What it shows is held against what would have happened anyway (chance.h). Of a network that
 * was awake: how likely was it to sleep just then? The nearer to the moment at which it is
 * due to sleep, the likelier: before the settle deadline it is due at the deadline; past it,
 * what has lasted so long goes on lasting (nod_chance_ends); in a wake-up, the wake-ups before it
 * say how long they last. Of one that was asleep: how likely was it that nothing woke it
 * for so long? Of a refit: how likely was it that the network stayed awake so long with the part
 * back? A network may stay awake for as long as it is allowed after any disturbance, so only
 * what comes near that, or goes beyond, says something; having slept again within it says
 * that the part may be innocent.
 * Proved: fault seen, and the chances of all isolations of the same thing together below
 * NOD_PROOF_CHANCE, by a sleep of NOD_PROOF_SLEEP_S or a refit. */
#ifndef NOD_ISOLATIONS_H
#define NOD_ISOLATIONS_H

#include "analysis.h"
#include "chance.h"
#include "isolation.h"

struct isolation {
	const struct nod_mark_finding *mark; /* the isolation */
	struct nod_analysis *a;
	struct nod_isolation_finding *out;
	const struct nod_snapshot *before, *after; /* after NULL: until the end */
	nod_time from, to;                         /* isolated; refitted or end */
	nod_time quiet_until;                      /* next disturbance, or `to` */
	nod_time back_until;    /* next disturbance after the refit, or the end */
	nod_time next_isolated; /* when something else was isolated, or the end */
	const struct nod_network_finding *network;
	size_t span; /* the one that was on when it was isolated */

	nod_duration silent; /* how long it slept while isolated */
	bool lasted;         /* it slept long enough, or the refit was watched long enough */
	bool both_ways;      /* with it back it was awake for as long as it may, or woken */
	bool unnoted;        /* that it was back shows in the traffic only */
	nod_time not_back;   /* noted as refitted then, but its messages have not come back */
	bool fault;          /* awake past the deadline before it, or with the part back */
	const char *did;     /* what happened, without an end: "F1 isolated at ...: body slept" */
};

/* The earliest last frame of a span that still was awake when the part was
 * isolated. */
int64_t nod_isolation_awake_until(const struct isolation *t, const struct nod_span_finding *span);

/* The span during which `time` fell, or -1. */
int nod_isolation_span_at(const struct nod_network_finding *n, nod_time time);

/* The span after which a network slept while the part was isolated, looked for from span
 * `first` on; -1: it did not. What ended before the isolation is not its doing. */
int nod_isolation_sleep_of(const struct isolation *t, const struct nod_network_finding *n,
			   size_t first);

/* isolation-presence.c: lists the messages that stopped and the senders that stayed on;
 * *not_off: all of what was isolated, as far as can be said, stayed on. 0 or -ENOMEM. */
int nod_isolation_presence(struct isolation *t, bool *not_off);

/* isolation-presence.c: finds that it was never put back although that was noted. 0 or -ENOMEM. */
int nod_isolation_not_back(struct isolation *t);

/* ... that it was put back, which nobody noted: silent until its network slept, in this span,
 * it spoke when that was woken again. False: not so. */
bool nod_isolation_back_unnoted(struct isolation *t, size_t span);

/* Whether the two speak of one thing: a fuse that carries one module alone is its plug. */
bool nod_isolation_same_thing(const struct nod_vehicle *vehicle,
			      const struct nod_isolation_finding *x,
			      const struct nod_isolation_finding *y);

/* The first mark after this moment that starts the settle clock anew, or the end. */
nod_time nod_isolation_undisturbed(const struct nod_findings *f, nod_time from);

/* isolation-proof.c: what its network did, with the chances; it slept after this span. */
void nod_isolation_slept(struct isolation *t, size_t span);

/* ... isolated while all slept: what matters is whether it is woken again. */
void nod_isolation_wakes(struct isolation *t);

/* isolation-proof.c: what the isolations of each thing prove together, in words. */
void nod_isolations_conclude(struct isolation *isolations, size_t count);

#endif
