/* SPDX-License-Identifier: MIT */
/* What a wake-up line behind all units explains of a network's wake-ups. */
#include "posterior-internal.h"

#include <math.h>

/* A wake-up line, or a first frame that the adapter missed: then the fastest to
 * start speaks first every time and is innocent. One case in eight. Chosen. */
#define PRIOR_WAKE_LINE (-1.9)

/* Woken by a line, the quick starters are first by turns: the same one again and again, each
 * further time, is less likely; but where one is always the fastest it goes on being so.
 * Chosen: of three cars with a line, one has a first that never changes. */
#define LINE_SAME (-0.35)
#define LINE_SAME_COUNTED 3

/* Whose nodes say what they want, and nobody wants anything in any wake-up: a waker hides that only
 * if it sends without asking for the network, one in three. Chosen. */
#define LINE_UNSAID 1.0

/* Quick starters that are first by turns, three to one, are common: that another was first at
 * times counts for this share of what it counts against a waker. Chosen, near what the rule
 * of succession gives for five of them. */
#define LINE_TURNS 0.55

/* Network management tells what for, and it was for nobody. */
static bool is_unsaid(const struct nod_weighing *w)
{
	for (size_t i = 0; i < w->a->f->sender_count; i++)
		if (w->tallies[i]->active_in || w->tallies[i]->kept_in)
			return false;
	return w->nodes;
}

/* That one was first each time: by how far ahead it was, where that can be said. */
static double sameness(const struct nod_weighing *w, const struct nod_tally *t, int sender)
{
	unsigned same = t->first_of == w->wakes ? t->first_of - 1 : 0;
	double order = t->first_of == w->wakes ? nod_start_order(w, sender) : NAN;

	return isnan(order) ? LINE_SAME * (same < LINE_SAME_COUNTED ? same : LINE_SAME_COUNTED)
			    : order;
}

/* How well "all were woken by a line and this one is merely fastest" explains that it was
 * first; what a node says of itself, it does not explain. */
static double fastest_score(const struct nod_weighing *w, const struct nod_hypothesis *h)
{
	const struct nod_tally *t = w->tallies[h->sender];

	return nod_posterior_evidence(h, NOD_EV_FIRST_SPEAKER) +
	       LINE_TURNS * nod_posterior_evidence(h, NOD_EV_NOT_FIRST) + PRIOR_WAKE_LINE +
	       sameness(w, t, h->sender) + (is_unsaid(w) ? LINE_UNSAID : 0) +
	       nod_common_start(w, h->sender);
}

/* A ring that one node alone asked for, time after time: a line that all are woken by explains who
 * was first, but another cause than that node must make it ask as well. Chosen: one in twelve. */
#define ASKED_ALONE_MIN 3
#define ASKED_ANYWAY (-2.5)

/* The most that a line without a node behind it explains. */
static double line_at_most(const struct nod_weighing *w)
{
	for (size_t k = 0; w->ring_kept >= ASKED_ALONE_MIN && k < w->count; k++) {
		const struct nod_hypothesis *h = &w->hypotheses[k];
		if (h->kind == NOD_SUSPECT_SENDER &&
		    w->tallies[h->sender]->kept_in == w->ring_kept &&
		    10 * w->ring_kept >= 9 * w->wakes)
			return h->score + ASKED_ANYWAY;
	}
	return INFINITY;
}

/* ... or the quick ones were first by turns, as chance had it: which is nobody's mark. */
double nod_posterior_line(const struct nod_weighing *w)
{
	double score = w->wakes > 1 ? PRIOR_WAKE_LINE : -INFINITY;

	for (size_t k = 0; k < w->count; k++) {
		const struct nod_hypothesis *h = &w->hypotheses[k];
		if (h->kind == NOD_SUSPECT_SENDER && w->tallies[h->sender]->first_of)
			score = fmax(score, fastest_score(w, h));
	}
	return fmin(score, line_at_most(w));
}
