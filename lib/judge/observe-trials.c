/* Evidence from isolations: the strongest there is, for and against. */
#include "weighing.h"

/* An isolation without change convinces fully when it was watched for as
 * long as the network is allowed for going to sleep. */
static double patience(const struct nod_weighing *w, const struct nod_trial_finding *t)
{
	int64_t allowed = w->a->engine->vehicle->networks[w->n->network].sleeps_within.ns;
	double share = (double)t->slept_after.ns / (double)allowed;

	return share < 1 ? 0.5 + share / 2 : 1;
}

static void observe_one(struct nod_weighing *w, struct nod_hypothesis *h,
			const struct nod_trial_finding *t)
{
	switch (t->result) {
	case NOD_TRIAL_PROVED:
		nod_hypothesis_add(w, h, NOD_EV_REFIT_WOKE, 1, "%s", t->text);
		nod_hypothesis_add(w, h, NOD_EV_ISOLATED_SLEPT, 1, "%s", t->text);
		break;
	case NOD_TRIAL_SLEPT:
		nod_hypothesis_add(w, h, NOD_EV_ISOLATED_SLEPT, 1, "%s", t->text);
		break;
	case NOD_TRIAL_UNCHANGED:
		nod_hypothesis_add(w, h, NOD_EV_ISOLATED_UNCHANGED, patience(w, t), "%s", t->text);
		break;
	case NOD_TRIAL_UNDECIDED:
	case NOD_TRIAL_NOT_OFF:
		break;
	}
}

/* What sleeps with a fuse on which no module of the map hangs is something
 * that the map does not know. */
static bool involves_nobody(const struct nod_weighing *w, const struct nod_trial_finding *t)
{
	for (size_t i = 0; i < w->a->f->sender_count; i++)
		if (w->tallies[i].present && nod_trial_involves(w->a, t, (int)i))
			return false;
	return true;
}

void nod_observe_trials(struct nod_weighing *w)
{
	for (size_t k = 0; k < w->a->f->trial_count; k++) {
		const struct nod_trial_finding *t = &w->a->f->trials[k];
		bool unknown = involves_nobody(w, t) && t->result != NOD_TRIAL_UNCHANGED;
		for (size_t i = 0; i < w->count; i++) {
			struct nod_hypothesis *h = &w->hypotheses[i];
			if (h->kind == NOD_SUSPECT_SENDER
				    ? nod_trial_involves(w->a, t, h->sender) &&
					      !(t->stayed_on && t->stayed_on[h->sender])
				    : h->kind == NOD_SUSPECT_UNSEEN && unknown)
				observe_one(w, h, t);
		}
	}
}
