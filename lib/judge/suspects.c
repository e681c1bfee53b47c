/* SPDX-License-Identifier: MIT */
/* Evidence to suspects: for each network in trouble the hypotheses are made and
 * the observations weighed; posterior.c turns the scores into probabilities. */
#include "analysis.h"

#include <errno.h>
#include <math.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "posterior.h"
#include "weighing.h"

/* Priors, as log-odds against an ordinary module of the map. */
#define PRIOR_NOT_IN_MAP (-1.0)  /* one module has several IDs, each a hypothesis here */
#define PRIOR_TESTER_TALKING 4.0 /* it keeps modules awake by design: it must go first */
#define PRIOR_TESTER_SEEN (-3.0) /* it was here, but not while the network was held */

/* Before the deadline the same observations say half as much: modules may hold
 * the network for good reasons of their own. */
#define TENTATIVE_SHARE 0.5

/* Tester requests within this time of the end mean it is still talking. */
#define TESTER_RECENT_NS (30 * NOD_NS_PER_S)

/* Suspects below this probability are not listed (five always are). */
#define LISTED_MIN 0.01
#define LISTED_ALWAYS 5

/* Of those that hang on what was isolated, so likely is likely as well. Chosen. */
#define LIKELY_TOO 0.1

void nod_hypothesis_add(struct nod_weighing *w, struct nod_hypothesis *h, enum nod_evidence kind,
			double weight, const char *format, ...)
{
	double share = w->tentative ? TENTATIVE_SHARE : 1;
	double strength = nod_evidence_rule(kind)->strength * weight * share;
	char text[480];
	va_list args;

	for (size_t i = 0; i < h->evidence_count; i++)
		if (h->evidence[i].kind == kind) { /* several isolations: one row, weights add */
			h->evidence[i].weight += strength;
			h->score += strength;
			return;
		}
	va_start(args, format);
	vsnprintf(text, sizeof(text), format, args);
	va_end(args);
	h->evidence[h->evidence_count++] = (struct nod_evidence_finding){
		kind, strength, nod_arena_printf(w->a->arena, "%s", text), NOD_NONE};
	h->score += strength;
}

/* ---- one network ---- */

static double sender_prior(const struct nod_weighing *w, int sender)
{
	const struct nod_tally *t = w->tallies[sender];
	const struct nod_sender_finding *u = &w->a->f->senders[sender];

	if (t->tester)
		return nod_time_is_set(t->last) &&
				       nod_time_since(w->end, t->last).ns < TESTER_RECENT_NS
			       ? PRIOR_TESTER_TALKING
			       : PRIOR_TESTER_SEEN;
	if (t->gateway)
		return NOD_PRIOR_GATEWAY;
	if (u->kind != NOD_SENDER_MODULE && w->a->f->vehicle->module_count)
		return PRIOR_NOT_IN_MAP;
	return 0;
}

static struct nod_hypothesis *add_hypothesis(struct nod_weighing *w, enum nod_suspect_kind kind,
					     int sender, double prior)
{
	struct nod_hypothesis *h = &w->hypotheses[w->count++];

	h->kind = kind;
	h->sender = sender;
	h->network = w->n->network;
	h->score = prior;
	h->role = NOD_ROLE_OTHER;
	if (kind == NOD_SUSPECT_SENDER)
		h->role = w->tallies[sender]->tester ? NOD_ROLE_TESTER
			  : w->held                  ? NOD_ROLE_HOLDER
			  : w->woken                 ? NOD_ROLE_WAKER
						     : NOD_ROLE_HOLDER;
	return h;
}

static int make_hypotheses(struct nod_weighing *w)
{
	size_t senders = w->a->f->sender_count;

	w->hypotheses = nod_arena_alloc(w->a->arena, (senders + 3) * sizeof(*w->hypotheses));
	if (!w->hypotheses)
		return -ENOMEM;
	for (size_t i = 0; i < senders; i++)
		if (w->tallies[i]->present)
			add_hypothesis(w, NOD_SUSPECT_SENDER, (int)i, sender_prior(w, (int)i));
	add_hypothesis(w, NOD_SUSPECT_UNSEEN, NOD_NONE, 0);
	if (w->tentative || (w->woken && !w->held))
		add_hypothesis(w, NOD_SUSPECT_NOTHING, NOD_NONE, 0);
	return 0;
}

/* Whoever requests the network while a tester talks may do so for the tester:
 * what speaks for the strongest suspect speaks for the tester as well. */
static void let_tester_explain(struct nod_weighing *w)
{
	struct nod_hypothesis *tester = NULL;
	double best = 0;

	for (size_t i = 0; i < w->count; i++) {
		struct nod_hypothesis *h = &w->hypotheses[i];
		if (h->kind != NOD_SUSPECT_SENDER)
			continue;
		if (w->tallies[h->sender]->tester)
			tester = h;
		else
			best = fmax(best, h->score);
	}
	if (tester && sender_prior(w, tester->sender) > 0)
		tester->score += best;
}

static int weigh(struct nod_weighing *w)
{
	if (nod_weighing_tally(w) || make_hypotheses(w))
		return -ENOMEM;
	nod_observe_traffic(w);
	nod_observe_inputs(w);
	nod_observe_management(w);
	nod_observe_pauses(w);
	nod_observe_wakes(w);
	nod_observe_isolations(w);
	nod_observe_fuses(w);
	nod_observe_good(w);
	nod_observe_earlier(w);
	let_tester_explain(w);
	return 0;
}

/* Awake for so long that it would be a finding in a parked car, and nothing says that it was
 * parked: neither a fault nor its absence can be told. */
static bool is_endless(const struct nod_analysis *a, const struct nod_network_finding *n)
{
	return !a->parked && n->awake_late.ns > 0;
}

static bool is_in_trouble(struct nod_analysis *a, struct nod_network_finding *n,
			  struct nod_weighing *w)
{
	*w = (struct nod_weighing){.a = a, .n = n};
	w->held = n->verdict == NOD_VERDICT_KEPT_AWAKE;
	w->woken = n->verdict == NOD_VERDICT_WOKEN || (w->held && n->wakes);
	w->tentative = n->verdict == NOD_VERDICT_CANNOT_TELL && n->state == NOD_STATE_AWAKE &&
		       !a->engine->in_use && !is_endless(a, n);
	w->late = w->held ? n->awake_late.ns : nod_time_since(a->f->end, a->f->lock).ns;
	return w->held || w->woken || w->tentative;
}

/* While one network is in trouble, another that has merely not slept yet is no
 * second question. */
static size_t without_tentative(struct nod_weighing *all, size_t count)
{
	size_t kept = 0;

	for (size_t i = 0; i < count; i++)
		if (!all[i].tentative)
			all[kept++] = all[i];
	return kept ? kept : count;
}

/* ---- the list ---- */

static const char *name_of(struct nod_weighing *w, const struct nod_hypothesis *h)
{
	switch (h->kind) {
	case NOD_SUSPECT_SENDER:
		return w->a->f->senders[h->sender].name;
	case NOD_SUSPECT_UNSEEN:
		return "something that does not show on these networks";
	case NOD_SUSPECT_NOT_NETWORK:
		return "not a network matter";
	case NOD_SUSPECT_NOTHING:
		if (w->tentative)
			return "nothing is wrong so far";
		return w->unslept > h->probability / 2 ? "nobody: it may not have slept"
						       : "somebody at the car, not noted";
	}
	return "?";
}

static int compare_evidence(const void *x, const void *y)
{
	const struct nod_evidence_finding *a = x, *b = y;
	double p = fabs(a->weight), q = fabs(b->weight);
	if (p != q)
		return p > q ? -1 : 1;
	return (a->kind > b->kind) - (a->kind < b->kind);
}

static int fill_suspect(struct nod_weighing *w, struct nod_suspect *s, struct nod_hypothesis *h)
{
	const struct nod_vehicle *vehicle = w->a->f->vehicle;

	s->kind = h->kind;
	s->sender = h->sender;
	s->network = h->network;
	s->role = h->role;
	s->name = name_of(w, h);
	s->evidence = nod_arena_alloc(w->a->arena, sizeof(h->evidence));
	if (!s->evidence)
		return -ENOMEM;
	memcpy(s->evidence, h->evidence, sizeof(h->evidence));
	s->evidence_count = h->evidence_count;
	qsort(s->evidence, s->evidence_count, sizeof(*s->evidence), compare_evidence);
	if (h->sender != NOD_NONE && w->a->f->senders[h->sender].kind == NOD_SENDER_MODULE) {
		const struct nod_module *module =
			&vehicle->modules[w->a->f->senders[h->sender].module];
		s->in_map = true;
		s->fuses = module->fuses;
		s->fuse_count = module->fuse_count;
	}
	return 0;
}

/* The suspect for this hypothesis, shared between networks. */
static struct nod_suspect *suspect_for(struct nod_weighing *w, struct nod_hypothesis *h)
{
	struct nod_findings *f = w->a->f;

	for (size_t i = 0; i < f->suspect_count; i++)
		if (f->suspects[i].kind == h->kind && f->suspects[i].sender == h->sender)
			return &f->suspects[i];
	struct nod_suspect *s = &f->suspects[f->suspect_count];
	if (fill_suspect(w, s, h))
		return NULL;
	f->suspect_count++;
	return s;
}

/* Adds the hypotheses of one network to the suspects: those of joined networks
 * carry one distribution; unjoined ones are separate events. */
static int merge(struct nod_weighing *w)
{
	for (size_t i = 0; i < w->count; i++) {
		struct nod_hypothesis *h = &w->hypotheses[i];
		if (h->probability < LISTED_MIN / 10 &&
		    (h->kind == NOD_SUSPECT_SENDER || h->probability <= 0))
			continue; /* what is no sender is carried by the first of joined networks */
		struct nod_suspect *s = suspect_for(w, h);
		if (!s)
			return -ENOMEM;
		if (h->kind == NOD_SUSPECT_NOTHING && s->probability > 0)
			s->probability *= h->probability; /* of all networks */
		else
			s->probability = 1 - (1 - s->probability) * (1 - h->probability);
	}
	return 0;
}

static int compare_suspects(const void *x, const void *y)
{
	const struct nod_suspect *a = x, *b = y;
	if (a->probability != b->probability)
		return a->probability > b->probability ? -1 : 1;
	if (a->kind != b->kind)
		return a->kind < b->kind ? -1 : 1;
	return (a->sender > b->sender) - (a->sender < b->sender);
}

static void sort_and_cut(struct nod_findings *f)
{
	qsort(f->suspects, f->suspect_count, sizeof(*f->suspects), compare_suspects);
	while (f->suspect_count > LISTED_ALWAYS &&
	       f->suspects[f->suspect_count - 1].probability < LISTED_MIN)
		f->suspect_count--;
}

/* A proof is of all that was isolated together: of one suspect only where no other that
 * hangs on the same is likely as well. */
static void mark_proved(struct nod_analysis *a, const struct nod_isolation_finding *t)
{
	struct nod_suspect *only = NULL;
	size_t likely = 0;

	for (size_t i = 0; i < a->f->suspect_count; i++) {
		struct nod_suspect *s = &a->f->suspects[i];
		if (s->probability < LIKELY_TOO || !nod_isolation_involves(a, t, s->sender))
			continue;
		only = s;
		likely++;
	}
	if (likely == 1)
		only->proved = true;
}

static int list(struct nod_analysis *a, struct nod_weighing *all, size_t count)
{
	size_t hypotheses = 0;

	for (size_t i = 0; i < count; i++)
		hypotheses += all[i].count;
	a->f->suspects = nod_arena_alloc(a->arena, (hypotheses + 1) * sizeof(*a->f->suspects));
	if (!a->f->suspects)
		return -ENOMEM;
	for (size_t i = 0; i < count; i++)
		if (merge(&all[i]))
			return -ENOMEM;
	sort_and_cut(a->f);
	for (size_t i = 0; i < a->f->isolation_count; i++)
		if (a->f->isolations[i].result == NOD_ISOLATION_PROVED)
			mark_proved(a, &a->f->isolations[i]);
	return 0;
}

/* Nothing in trouble: said as a suspect of its own, so that the list always
 * answers "what is it, then". */
static int nothing_wrong(struct nod_analysis *a)
{
	struct nod_suspect *s = nod_arena_alloc(a->arena, sizeof(*s));
	bool all_sleep = true, heard = false;

	if (!s)
		return -ENOMEM;
	for (size_t i = 0; i < a->f->network_count; i++) {
		heard |= a->f->networks[i].verdict == NOD_VERDICT_SLEEPS;
		all_sleep &= a->f->networks[i].verdict == NOD_VERDICT_SLEEPS;
	}
	bool draws = heard && nod_analysis_draws_too_much(a);
	s->kind = draws ? NOD_SUSPECT_NOT_NETWORK : NOD_SUSPECT_NOTHING;
	s->sender = s->network = NOD_NONE;
	s->role = draws ? NOD_ROLE_DRAIN : NOD_ROLE_OTHER;
	s->name = draws ? "a circuit that draws while the networks sleep"
			: "nothing is wrong on these networks";
	s->probability = all_sleep && heard ? 0.97 : heard ? 0.7 : 0.5;
	a->f->suspects = s;
	a->f->suspect_count = heard;
	return 0;
}

int nod_analysis_weigh_suspects(struct nod_analysis *a)
{
	struct nod_weighing *all = nod_arena_alloc(a->arena,
						   (a->f->network_count + 1) * sizeof(*all));
	size_t count = 0;

	if (!all)
		return -ENOMEM;
	for (size_t i = 0; i < a->f->network_count; i++)
		if (is_in_trouble(a, &a->f->networks[i], &all[count])) {
			if (weigh(&all[count]))
				return -ENOMEM;
			count++;
		}
	if (!count)
		return nothing_wrong(a);
	count = without_tentative(all, count);
	int status = nod_posterior_of_like_cars(all, count);
	return status ? status : list(a, all, count);
}
