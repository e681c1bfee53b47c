/* SPDX-License-Identifier: MIT */
/* Evidence from network management: who still asks for the network. */
#include "weighing.h"

/* A node that released the network this long before the last request did so
 * for certain; less is the protocol's own run-down. Chosen: above the
 * repeat-message and time-out times of published example sets (<= 5 s). */
#define RELEASED_FULL_NS (30 * NOD_NS_PER_S)

/* What each further requester takes from the case against one of them. A
 * follower has no reason of its own to request, so two requesters are more
 * likely two holders than one and a parrot. Chosen. */
#define OTHER_REQUESTER_COST 0.4

static void observe_request(struct nod_weighing *w, struct nod_hypothesis *h,
			    const struct nod_tally *t)
{
	bool everybody = w->requesting == w->nodes && w->nodes > 1;
	bool alone = w->requesting == 1 || (w->common == 1 && !t->gateway);
	const char *until = nod_analysis_when(w->a, t->request);

	if (everybody && !w->passive)
		return; /* says nothing */
	if (alone && w->nodes > 1)
		nod_hypothesis_add(
			w, h, NOD_EV_NM_ONLY_REQUEST, 1,
			"Of %u modules that say when they need %s, it alone still did%s, "
			"until %s.",
			w->nodes, w->n->name,
			w->requesting > 1 ? " of its own accord, beside a gateway" : "", until);
	else
		nod_hypothesis_add(w, h, NOD_EV_NM_REQUEST,
				   1 / (1 + OTHER_REQUESTER_COST * (w->requesting - 1)),
				   "It still requested %s until %s, as %u of %u modules did%s.",
				   w->n->name, until, w->requesting, w->nodes,
				   t->gateway ? ": a gateway asks for as long as anybody else does"
					      : "");
}

static void observe_release(struct nod_weighing *w, struct nod_hypothesis *h,
			    const struct nod_tally *t)
{
	nod_time since = nod_time_is_set(t->request) ? t->request : w->span.from;
	int64_t released = nod_time_since(w->last_request, since).ns;
	if (released <= 0)
		return; /* it asked after all others: stirred up by a person, which says nothing */
	double weight = released >= RELEASED_FULL_NS ? 1
						     : (double)released / (double)RELEASED_FULL_NS;

	if (nod_time_is_set(t->ready))
		nod_hypothesis_add(w, h, NOD_EV_NM_READY, weight,
				   "It gives the sleep indication; its last request was %s before "
				   "the last of all.",
				   nod_analysis_length(w->a, (nod_duration){released}));
	else
		nod_hypothesis_add(w, h, NOD_EV_NM_READY, weight,
				   "It has released %s: its last request was at %s, %s before the "
				   "last of all.",
				   w->n->name, nod_analysis_when(w->a, since),
				   nod_analysis_length(w->a, (nod_duration){released}));
}

/* A ring goes to sleep when all of it are ready: one acknowledges then. Where it did so again and
 * again and is awake all the same, somebody else wakes it. Chosen. */
#define RING_SLEPT_MIN 3

/* A node takes part while its last indication is no older than this at the last acknowledge: a
 * round of a dozen nodes at 1 s. Chosen. */
#define ROUND_NS (15 * NOD_NS_PER_S)

static bool agreed(const struct nod_weighing *w, const struct nod_tally *t)
{
	return w->ring_slept >= RING_SLEPT_MIN && t->agreed >= RING_SLEPT_MIN &&
	       nod_time_is_set(t->ready) &&
	       nod_time_since(w->ring_slept_at, t->ready).ns < ROUND_NS;
}

static void observe_agreed(struct nod_weighing *w, struct nod_hypothesis *h)
{
	nod_hypothesis_add(w, h, NOD_EV_NM_READY, 1,
			   "It was ready to sleep, and so were all of the ring: again and again "
			   "the ring went to sleep.");
}

/* A node that has released the network stops talking with the others (AUTOSAR CanNm: the
 * application's messages end with the NM-Timeout; OSEK NM: with the way to BusSleep). One that
 * talks on alone breaks that rule: its release is part of the fault, and clears it of nothing.
 * In a ring that one asks for and never lets go, talking on is what all do. */
static bool talks_on_alone(const struct nod_weighing *w, const struct nod_hypothesis *h)
{
	if (w->steady_request)
		return false;
	for (size_t i = 0; i < h->evidence_count; i++)
		if (h->evidence[i].kind == NOD_EV_ALONE)
			return true;
	return false;
}

void nod_observe_management(struct nod_weighing *w)
{
	if (!w->serial || !w->nodes || !(w->held || w->tentative))
		return;
	for (size_t i = 0; i < w->count; i++) {
		struct nod_hypothesis *h = &w->hypotheses[i];
		if (h->kind != NOD_SUSPECT_SENDER)
			continue;
		const struct nod_tally *t = w->tallies[h->sender];
		if (w->held && agreed(w, t))
			observe_agreed(w, h);
		else if (!nod_time_is_set(w->last_request))
			continue;
		else if (nod_weighing_requests(w, t))
			observe_request(w, h, t);
		else if (t->node && w->pauseless == NOD_NONE && !talks_on_alone(w, h))
			observe_release(w, h, t);
		if (t->limp_home)
			nod_hypothesis_add(w, h, NOD_EV_NM_LIMP_HOME, 1, "%s is in limp home.",
					   w->a->f->senders[h->sender].name);
		if (t->partial && nod_weighing_requests(w, t))
			nod_hypothesis_add(w, h, NOD_EV_PARTIAL_REQUEST, 1,
					   "It requests partial networks (bits %llX).",
					   (unsigned long long)t->partial);
	}
}
