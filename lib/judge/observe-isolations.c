/* SPDX-License-Identifier: MIT */
/* Evidence from isolations: the strongest there is, for and against. All isolations of one
 * thing are one piece of evidence each way: they are counted together, once. Its fuse and its
 * plug are two: what can be wrong with the one is not wrong with the other. */
#include "weighing.h"

#include <math.h>

/* If it is the cause, the network sleeps with it gone in this share of cases. Chosen: a
 * second cause, a supply that the fuse does not carry. */
#define SLEEPS_WITHOUT 0.95

/* That an isolation misleads, however unlikely chance was: another fuse than the marked one,
 * a map that is wrong. Chosen; with it the strength of the table is what is left of all. */
#define MISLEADS 0.017

/* An isolation without change convinces fully when it was watched for as
 * long as the network is allowed for going to sleep. */
static double patience(const struct nod_weighing *w, const struct nod_isolation_finding *t)
{
	int64_t allowed = w->a->engine->vehicle->networks[w->n->network].sleeps_within.ns;
	double share = (double)t->slept_after.ns / (double)allowed;

	return share < 1 ? 0.5 + share / 2 : 1;
}

/* What the isolations of one suspect say together. */
struct together {
	double chance, refit_chance; /* of what came, without it; products */
	const struct nod_isolation_finding *slept, *back, *slept_again, *unchanged; /* the latest */
	unsigned count;
	double unchanged_weight;
};

static void take(struct together *all, const struct nod_weighing *w,
		 const struct nod_isolation_finding *t)
{
	double weight;

	switch (t->result) {
	case NOD_ISOLATION_PROVED:
	case NOD_ISOLATION_SLEPT:
		all->chance *= t->by_chance;
		all->refit_chance *= t->refit_by_chance;
		all->slept = t;
		all->back = t->refit == NOD_REFIT_AWAKE ? t : all->back;
		all->slept_again = t->refit == NOD_REFIT_SLEPT ? t : all->slept_again;
		all->count++;
		break;
	case NOD_ISOLATION_UNCHANGED:
		weight = patience(w, t);
		if (weight >= all->unchanged_weight) {
			all->unchanged_weight = weight;
			all->unchanged = t;
		}
		break;
	case NOD_ISOLATION_UNDECIDED:
	case NOD_ISOLATION_NOT_OFF:
		break;
	}
}

/* Adds it at a share of what the table gives it at most. */
static void add(struct nod_weighing *w, struct nod_hypothesis *h, enum nod_evidence kind,
		double share, const struct nod_isolation_finding *t)
{
	nod_hypothesis_add(w, h, kind, share, "%s", t->text);
	h->evidence[h->evidence_count - 1].isolation = (int)(t - w->a->f->isolations);
}

static void add_log_odds(struct nod_weighing *w, struct nod_hypothesis *h, enum nod_evidence kind,
			 double log_odds, const struct nod_isolation_finding *t)
{
	double share = fmin(1, log_odds / fabs(nod_evidence_rule(kind)->strength));

	if (share > 0.01)
		add(w, h, kind, share, t);
}

static void add_slept(struct nod_weighing *w, struct nod_hypothesis *h, const struct together *of)
{
	if (of->slept)
		add_log_odds(w, h, NOD_EV_ISOLATED_SLEPT,
			     log(SLEEPS_WITHOUT / (MISLEADS + (1 - MISLEADS) * of->chance)),
			     of->slept);
}

static void add_rest(struct nod_weighing *w, struct nod_hypothesis *h, const struct together *all)
{
	if (all->back)
		add_log_odds(w, h, NOD_EV_REFIT_WOKE, -log(all->refit_chance), all->back);
	else if (all->slept_again)
		add(w, h, NOD_EV_REFIT_SLEPT, 1, all->slept_again);
	if (all->unchanged)
		add(w, h, NOD_EV_ISOLATED_UNCHANGED, all->unchanged_weight, all->unchanged);
}

/* What sleeps with a fuse on which no module of the map hangs is something
 * that the map does not know. */
static bool involves_nobody(const struct nod_weighing *w, const struct nod_isolation_finding *t)
{
	for (size_t i = 0; i < w->a->f->sender_count; i++)
		if (w->tallies[i]->present && nod_isolation_involves(w->a, t, (int)i))
			return false;
	return true;
}

static bool concerns(const struct nod_weighing *w, const struct nod_isolation_finding *t,
		     const struct nod_hypothesis *h)
{
	if (h->kind == NOD_SUSPECT_SENDER)
		return nod_isolation_involves(w->a, t, h->sender) &&
		       !(t->stayed_on && t->stayed_on[h->sender]);
	return h->kind == NOD_SUSPECT_UNSEEN && t->result != NOD_ISOLATION_UNCHANGED &&
	       involves_nobody(w, t);
}

static bool is_of(const struct nod_isolation_finding *t, const struct nod_isolation_finding *thing)
{
	return !thing || (t->fuse == thing->fuse && t->module == thing->module);
}

/* What the isolations of this thing say together, NULL: of all. */
static struct together gather(const struct nod_weighing *w, const struct nod_hypothesis *h,
			      const struct nod_isolation_finding *thing)
{
	struct together all = {.chance = 1, .refit_chance = 1};

	for (size_t k = 0; k < w->a->f->isolation_count; k++)
		if (is_of(&w->a->f->isolations[k], thing) &&
		    concerns(w, &w->a->f->isolations[k], h))
			take(&all, w, &w->a->f->isolations[k]);
	return all;
}

/* No isolation before it is of the same thing. */
static bool is_first_of_thing(const struct nod_findings *f, size_t isolation)
{
	for (size_t k = 0; k < isolation; k++)
		if (is_of(&f->isolations[k], &f->isolations[isolation]))
			return false;
	return true;
}

void nod_observe_isolations(struct nod_weighing *w)
{
	const struct nod_findings *f = w->a->f;

	for (size_t i = 0; i < w->count; i++) {
		struct nod_hypothesis *h = &w->hypotheses[i];
		struct together of;
		for (size_t k = 0; k < f->isolation_count; k++)
			if (is_first_of_thing(f, k)) {
				of = gather(w, h, &f->isolations[k]);
				add_slept(w, h, &of);
			}
		of = gather(w, h, NULL);
		add_rest(w, h, &of);
	}
}
