/* SPDX-License-Identifier: MIT */
/* What the hypotheses of a network say of somebody who was at the car. */
#include "posterior-internal.h"

#include <math.h>

/* What speaks for a network's senders but for their having been alone: a person
 * or a key wakes more than one module. */
static double stirred_mass(const struct nod_weighing *w)
{
	double mass = -INFINITY;

	for (size_t k = 0; k < w->count; k++) {
		const struct nod_hypothesis *h = &w->hypotheses[k];
		if (nod_posterior_is_own(w, h))
			mass = nod_log_add(
				mass, h->score - nod_posterior_evidence(h, NOD_EV_ONLY_SPEAKER));
	}
	return mass;
}

/* For each wake-up begun by another than most. Chosen: three modules at a car tell of people. */
#define TURN (-1.1)

/* What a node says of its wake-ups counts where it began them. */
static double of_turns(const struct nod_weighing *w, const struct nod_hypothesis *h)
{
	const struct nod_tally *t = w->tallies[h->sender];
	unsigned said = t->active_in > t->kept_in ? t->active_in : t->kept_in;
	double share = said > t->first_of ? (double)t->first_of / said : 1;

	return share * (nod_posterior_evidence(h, NOD_EV_ACTIVE_WAKEUP) +
			nod_posterior_evidence(h, NOD_EV_KEPT_IT));
}

/* What speaks for those who began the wake-ups by turns: who comes does now this, now that. */
static double turns_mass(const struct nod_weighing *w)
{
	double first = 0, said = 0;
	unsigned most = 0;

	for (size_t k = 0; k < w->count; k++) {
		const struct nod_hypothesis *h = &w->hypotheses[k];
		if (!nod_posterior_is_own(w, h))
			continue;
		first += nod_posterior_evidence(h, NOD_EV_FIRST_SPEAKER);
		said += of_turns(w, h);
		most = w->tallies[h->sender]->first_of > most ? w->tallies[h->sender]->first_of
							      : most;
	}
	return fmin(first, NOD_WAKES_COUNTED * nod_evidence_rule(NOD_EV_FIRST_SPEAKER)->strength) +
	       fmin(said, NOD_WAKES_COUNTED * (nod_evidence_rule(NOD_EV_ACTIVE_WAKEUP)->strength +
					       nod_evidence_rule(NOD_EV_KEPT_IT)->strength)) +
	       TURN * (w->wakes - most);
}

double nod_posterior_stirred(const struct nod_weighing *w)
{
	return fmax(stirred_mass(w), turns_mass(w));
}

double nod_posterior_person(const struct nod_weighing *w, unsigned wakes)
{
	return nod_posterior_stirred(w) + nod_prior_person(w, wakes);
}
