/* SPDX-License-Identifier: MIT */
/* Evidence from solved cars with the same messages: who it was in them. It is no observation of
 * this car, so it is told apart from all others: it is weakened until it carries nobody over one
 * half, one way or the other, who would not be there without it, nor before one that is clearly
 * likelier by what was heard here. */
#include <errno.h>
#include <math.h>
#include <string.h>
#include <strings.h>

#include "known.h"
#include "posterior.h"
#include "weighing.h"

/* So many cars without a common weak point are thought of beside the solved ones (the parameter of
 * a symmetric Dirichlet prior over the senders). Chosen: one solved car of a kind makes its module
 * four times as likely as another of fifteen, as if it shared the fault with one in four. */
#define CARS_UNLIKE 4.0

/* It is halved so often at most, then left out. */
#define HALVINGS 4

/* What the sentence needs to name somebody. */
#define NAMED 0.5

/* So much likelier by what was heard here, the first stays before another. Chosen: two to one is
 * more than a common weak point of half of a kind's cars is worth. */
#define CLEARLY 2

static const struct nod_known_sender *known_of(const struct nod_weighing *w,
					       const struct nod_hypothesis *h)
{
	const struct nod_known *known = w->a->engine->known;

	if (h->kind != NOD_SUSPECT_SENDER || w->tallies[h->sender]->tester)
		return NULL;
	for (size_t i = 0; i < known->sender_count; i++)
		if (!strcasecmp(known->senders[i].name, w->a->f->senders[h->sender].name))
			return &known->senders[i];
	return NULL;
}

/* Its share among the solved cars against that of any one sender of the network, log-odds. */
static double weight_of(const struct nod_weighing *w, unsigned cars)
{
	double solved = w->a->engine->known->solved, senders = 0;

	for (size_t i = 0; i < w->count; i++)
		senders += w->hypotheses[i].kind == NOD_SUSPECT_SENDER;
	double most = nod_evidence_rule(NOD_EV_LIKE_CARS)->strength;
	return fmax(0, fmin(most, log((senders * cars + CARS_UNLIKE) / (solved + CARS_UNLIKE))));
}

/* Adds that share of it. */
static void observe(struct nod_weighing *w, double share)
{
	double most = nod_evidence_rule(NOD_EV_LIKE_CARS)->strength;

	for (size_t i = 0; i < w->count; i++) {
		const struct nod_known_sender *k = known_of(w, &w->hypotheses[i]);
		unsigned solved = w->a->engine->known->solved;
		if (k)
			nod_hypothesis_add(
				w, &w->hypotheses[i], NOD_EV_LIKE_CARS,
				share * weight_of(w, k->cars) / most,
				"In %u of %u car%s with these messages that %s solved it was "
				"this one.",
				k->cars, solved, solved == 1 ? "" : "s",
				solved == 1 ? "was" : "were");
	}
}

/* The probabilities of all hypotheses, one after the other. */
static void copy(double *to, const struct nod_weighing *all, size_t count)
{
	for (size_t i = 0; i < count; i++)
		for (size_t k = 0; k < all[i].count; k++)
			*to++ = all[i].hypotheses[k].probability;
}

/* Whoever is somewhere else than without it: over one half, or behind one that is less likely by
 * what was heard here. */
static bool is_carried(const double *alone, const double *with, size_t count)
{
	size_t first = 0;

	for (size_t i = 0; i < count; i++)
		first = alone[i] > alone[first] ? i : first;
	for (size_t i = 0; i < count; i++)
		if ((alone[i] >= NAMED) != (with[i] >= NAMED) ||
		    (with[i] > with[first] && alone[first] > CLEARLY * alone[i]))
			return true;
	return false;
}

/* Weighs it in, ever less, until nobody is carried by it. */
static int weigh_in(struct nod_weighing *all, size_t count, double *alone, size_t hypotheses)
{
	double *with = alone + hypotheses, share = 0;
	int status = 0;

	for (int i = 0; !status && i <= HALVINGS; i++) {
		double next = i < HALVINGS ? ldexp(1, -i) : 0;
		for (size_t k = 0; k < count; k++)
			observe(&all[k], next - share);
		share = next;
		status = nod_posterior(all, count);
		copy(with, all, count);
		if (!is_carried(alone, with, hypotheses))
			break;
	}
	return status;
}

int nod_posterior_of_like_cars(struct nod_weighing *all, size_t count)
{
	struct nod_analysis *a = all[0].a;
	size_t hypotheses = 0;
	int status = nod_posterior(all, count);

	if (status || !a->engine->known || !a->engine->known->sender_count)
		return status;
	for (size_t i = 0; i < count; i++)
		hypotheses += all[i].count;
	double *alone = nod_arena_alloc(a->arena, (2 * hypotheses + 1) * sizeof(*alone));
	if (!alone)
		return -ENOMEM;
	copy(alone, all, count);
	return weigh_in(all, count, alone, hypotheses);
}
