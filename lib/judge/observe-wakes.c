/* SPDX-License-Identifier: MIT */
/* Evidence from wake-ups: who spoke first, and who never did. */
#include "weighing.h"

/* Who is first in some wake-ups and not in others is rather one of several quick
 * starters: each miss counts more than for somebody who is never first. Chosen. */
#define INCONSISTENT 3.4

/* Who has woken a ring says in it that it wants it; the first to speak may only start
 * fastest. Of a holder's readiness by so much, as who sends one frame says nothing.
 * Chosen. */
#define RING_READY 0.6

static double counted(double wakes)
{
	return wakes < NOD_WAKES_COUNTED ? wakes : NOD_WAKES_COUNTED;
}

static void observe_one(struct nod_weighing *w, struct nod_hypothesis *h, const struct nod_tally *t)
{
	unsigned missed = w->wakes - t->first_of;

	if (t->first_of)
		nod_hypothesis_add(w, h, NOD_EV_FIRST_SPEAKER, counted(t->first_clarity),
				   "It spoke first in %u of %u wake-ups of %s.", t->first_of,
				   w->wakes, w->n->name);
	if (t->only_of)
		nod_hypothesis_add(w, h, NOD_EV_ONLY_SPEAKER, counted(t->only_of) / 2,
				   "In %u of %u wake-ups nobody else spoke at all.", t->only_of,
				   w->wakes);
	if (t->active_in && t->burst_in)
		nod_hypothesis_add(w, h, NOD_EV_ACTIVE_WAKEUP, counted(t->active_in),
				   "In %u of %u wake-ups it began with the burst of messages that "
				   "only who wakes %s itself sends.",
				   t->active_in, w->wakes, w->n->name);
	else if (t->active_in)
		nod_hypothesis_add(w, h, NOD_EV_ACTIVE_WAKEUP, counted(t->active_in),
				   "In %u of %u wake-ups it reports that it woke %s itself.",
				   t->active_in, w->wakes, w->n->name);
	if (t->kept_in)
		nod_hypothesis_add(
			w, h, NOD_EV_KEPT_IT, counted(t->kept_in),
			"In %u of %u wake-ups it requested %s when all others had stopped.",
			t->kept_in, w->wakes, w->n->name);
	if (t->node && !t->kept_in && w->ring_kept)
		nod_hypothesis_add(
			w, h, NOD_EV_NM_READY,
			RING_READY * counted(w->ring_kept) / NOD_WAKES_COUNTED,
			"It was ready to sleep again in %u of %u wake-ups, while another "
			"node of the ring was not.",
			w->ring_kept, w->wakes);
	if (missed && !t->active_in && !t->kept_in)
		nod_hypothesis_add(
			w, h, NOD_EV_NOT_FIRST, counted(missed) * (t->first_of ? INCONSISTENT : 1),
			"It was not the first to speak in %u of %u wake-ups.", missed, w->wakes);
}

void nod_observe_wakes(struct nod_weighing *w)
{
	if (!w->wakes)
		return;
	for (size_t i = 0; i < w->count; i++)
		if (w->hypotheses[i].kind == NOD_SUSPECT_SENDER)
			observe_one(w, &w->hypotheses[i], w->tallies[w->hypotheses[i].sender]);
}
