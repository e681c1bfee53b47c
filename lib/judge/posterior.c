/* SPDX-License-Identifier: MIT */
#include "posterior-internal.h"

#include <errno.h>
#include <math.h>

/* A cause that does not show on the recorded networks, log-odds against an
 * ordinary module: when some network of a gateway was not recorded, and when
 * all were. Chosen. */
#define PRIOR_UNSEEN (-0.7)
#define PRIOR_UNSEEN_ALL_HEARD (-1.6)

/* More than one cause at once: about one car in five. Chosen. */
#define PRIOR_SEVERAL (-1.6)

/* Who finds out about a car that is held awake is at it: somebody opens it in every second
 * one, as far as its wake-ups look so. Chosen. */
#define PRIOR_VISITED 0.7

/* Before the deadline most cars are simply not asleep yet: thirty to one. */
#define PRIOR_NOTHING 3.5

/* What evidence of this kind can be wrong about together (a wrong map, an
 * untypical car): the posterior is mixed with this share of "unseen". */
#define MODEL_DOUBT 0.015

/* A group: the networks in trouble for the same reason, or not yet in trouble.
 * Wakefulness may pass between them, known gateway or not. */
struct group {
	struct nod_weighing **members;
	size_t count;
	double *forward; /* by member: score of "only passed on to it" */
	double forward_sum;
	double *mass, *mass_untested; /* by member: its own senders, log; without isolations */
	double *set;       /* by member: score of the set that holds together, -INFINITY */
	double *person;    /* by member: its wake-ups were somebody at the car; -INFINITY */
	double senders;    /* log of how many there are */
	double *of_sender; /* accumulated probability by sender */
	double *of_first;  /* by sender, 0 but within take_back_doubles() */
	double unseen, nothing;
	double woken; /* the probability that it was asleep and woke at all */
	double total; /* log of everything */
};

/* What isolations say for it: two suspects of one fuse share that evidence. */
static double tested(const struct nod_hypothesis *h)
{
	return nod_posterior_evidence(h, NOD_EV_ISOLATED_SLEPT) +
	       nod_posterior_evidence(h, NOD_EV_REFIT_WOKE) +
	       nod_posterior_evidence(h, NOD_EV_REFIT_SLEPT);
}

static void measure(struct group *g)
{
	double senders = 0;

	g->forward_sum = g->woken = 0;
	for (size_t i = 0; i < g->count; i++) {
		const struct nod_weighing *w = g->members[i];
		g->woken = fmax(g->woken, nod_posterior_woken(w));
		g->forward[i] = nod_posterior_forward(w);
		g->forward_sum += g->forward[i];
		g->set[i] = nod_posterior_set(w);
		g->mass[i] = g->mass_untested[i] = g->set[i];
		g->person[i] = w->held || w->tentative || !w->wakes
				       ? -INFINITY
				       : nod_posterior_person(w, w->wakes);
		for (size_t k = 0; k < w->count; k++) {
			const struct nod_hypothesis *h = &w->hypotheses[k];
			if (!nod_posterior_is_own(w, h))
				continue;
			senders++;
			g->mass[i] = nod_log_add(g->mass[i], h->score);
			g->mass_untested[i] = nod_log_add(g->mass_untested[i],
							  h->score - tested(h));
		}
	}
	g->senders = log(senders + 1);
}

static const struct nod_hypothesis *hypothesis_of(const struct nod_weighing *w, int sender)
{
	for (size_t k = 0; k < w->count; k++)
		if (w->hypotheses[k].kind == NOD_SUSPECT_SENDER &&
		    w->hypotheses[k].sender == sender)
			return &w->hypotheses[k];
	return NULL;
}

/* The score of one gateway as the cause: its evidence on all networks; what was done to it
 * counts once. */
static double gateway_score(const struct group *g, int sender)
{
	double score = NOD_PRIOR_GATEWAY, car = 0;

	for (size_t i = 0; i < g->count; i++) {
		const struct nod_hypothesis *h = hypothesis_of(g->members[i], sender);
		double here = h ? nod_posterior_of_car(h) : 0;
		score += h ? h->score - NOD_PRIOR_GATEWAY - here : g->forward[i];
		car = fabs(here) > fabs(car) ? here : car;
	}
	return score + car;
}

/* One line woke all, on whichever network. */
static double wake_line_score(const struct group *g)
{
	double best = -INFINITY;

	for (size_t i = 0; i < g->count; i++)
		best = fmax(best,
			    nod_posterior_line(g->members[i]) + g->forward_sum - g->forward[i]);
	return best;
}

/* Somebody at the car woke member i; and the others: they were woken by it, or he stirred modules
 * of theirs, too, whichever. */
static double person_score(const struct group *g, size_t i, unsigned wakes)
{
	double score = nod_posterior_person(g->members[i], wakes);

	for (size_t k = 0; k < g->count; k++)
		if (k != i)
			score += fmax(g->forward[k],
				      g->members[k]->wakes
					      ? nod_posterior_stirred(g->members[k]) - g->senders
					      : -INFINITY);
	return score;
}

/* Nothing wrong with the car although it woke: somebody was at it. */
static double unnoted_score(const struct group *g)
{
	double best = -INFINITY;
	unsigned wakes = 0;

	for (size_t i = 0; i < g->count; i++) {
		const struct nod_weighing *w = g->members[i];
		if (w->held || w->tentative)
			return -INFINITY;
		wakes = w->wakes > wakes ? w->wakes : wakes;
	}
	for (size_t i = 0; i < g->count && wakes; i++)
		best = fmax(best, person_score(g, i, wakes));
	return best;
}

/* True when every network that the gateways of the map sit on was heard. */
static bool all_networks_heard(const struct nod_analysis *a)
{
	bool gateways = false;

	for (size_t m = 0; m < a->f->vehicle->module_count; m++) {
		const struct nod_module *module = &a->f->vehicle->modules[m];
		gateways |= module->gateway && module->network_count;
		for (size_t i = 0; module->gateway && i < module->network_count; i++)
			if (!a->f->networks[module->networks[i]].span_count)
				return false;
	}
	return gateways;
}

/* The share of member i's own mass that is this sender's: alone, or in the set. */
static double share_of(const struct group *g, size_t i, const struct nod_hypothesis *h,
		       bool untested)
{
	double own = untested ? g->mass_untested[i] : g->mass[i];
	double share = exp(h->score - (untested ? tested(h) : 0) - own);

	return nod_posterior_in_set(g->members[i], h) ? share + exp(g->set[i] - own) : share;
}

static void share_out(struct group *g, double log_mass, size_t i, bool untested)
{
	const struct nod_weighing *w = g->members[i];
	double mass = exp(log_mass - g->total);

	for (size_t k = 0; k < w->count; k++)
		if (nod_posterior_is_own(w, &w->hypotheses[k]))
			g->of_sender[w->hypotheses[k].sender] +=
				mass * share_of(g, i, &w->hypotheses[k], untested);
}

/* A sender of both members is one cause where the pair has it twice. */
static void take_back_doubles(struct group *g, double log_mass, size_t i, size_t k)
{
	const struct nod_weighing *a = g->members[i], *b = g->members[k];
	double mass = exp(log_mass - g->total);

	for (size_t h = 0; h < a->count; h++)
		if (nod_posterior_is_own(a, &a->hypotheses[h]))
			g->of_first[a->hypotheses[h].sender] = share_of(g, i, &a->hypotheses[h],
									false);
	for (size_t h = 0; h < b->count; h++)
		if (nod_posterior_is_own(b, &b->hypotheses[h]))
			g->of_sender[b->hypotheses[h].sender] -=
				mass * g->of_first[b->hypotheses[h].sender] *
				share_of(g, k, &b->hypotheses[h], true);
	for (size_t h = 0; h < a->count; h++)
		if (nod_posterior_is_own(a, &a->hypotheses[h]))
			g->of_first[a->hypotheses[h].sender] = 0;
}

/* One cause on member i, the others only passed on. */
static double single_mass(const struct group *g, size_t i)
{
	return g->mass[i] + g->forward_sum - g->forward[i];
}

/* Causes on members i and k; an isolation speaks for one of them. */
static double pair_mass(const struct group *g, size_t i, size_t k)
{
	return PRIOR_SEVERAL - g->senders + g->mass[i] + g->mass_untested[k] + g->forward_sum -
	       g->forward[i] - g->forward[k];
}

/* A cause on member i, which is held, and somebody at the car who woke member k. */
static double visited_mass(const struct group *g, size_t i, size_t k)
{
	return g->members[i]->held ? PRIOR_VISITED - g->senders + g->mass[i] + g->person[k] +
					     g->forward_sum - g->forward[i] - g->forward[k]
				   : -INFINITY;
}

static void sum_up(struct group *g)
{
	const struct nod_weighing *first = g->members[0];
	bool heard = all_networks_heard(first->a);

	g->unseen = g->forward_sum + (heard ? PRIOR_UNSEEN_ALL_HEARD : PRIOR_UNSEEN);
	for (size_t i = 0; i < first->count; i++) /* what an isolation says of the unmapped */
		if (first->hypotheses[i].kind == NOD_SUSPECT_UNSEEN)
			g->unseen += first->hypotheses[i].score;
	g->unseen = nod_log_add(g->unseen, wake_line_score(g));
	g->nothing = first->tentative ? PRIOR_NOTHING + g->senders : unnoted_score(g);
	g->total = nod_log_add(g->unseen, g->nothing);
	for (size_t s = 0; s < first->a->f->sender_count; s++)
		if (first->tallies[s]->gateway)
			g->total = nod_log_add(g->total, gateway_score(g, (int)s));
	for (size_t i = 0; i < g->count; i++) {
		g->total = nod_log_add(g->total, single_mass(g, i));
		for (size_t k = 0; k < g->count; k++)
			if (k != i)
				g->total = nod_log_add(
					g->total,
					nod_log_add(pair_mass(g, i, k), visited_mass(g, i, k)));
	}
}

static void spread_over_senders(struct group *g)
{
	const struct nod_weighing *first = g->members[0];

	for (size_t s = 0; s < first->a->f->sender_count; s++)
		if (first->tallies[s]->gateway)
			g->of_sender[s] = exp(gateway_score(g, (int)s) - g->total);
	for (size_t i = 0; i < g->count; i++) {
		share_out(g, single_mass(g, i), i, false);
		for (size_t k = 0; k < g->count; k++) {
			if (k == i)
				continue;
			share_out(g, nod_log_add(pair_mass(g, i, k), visited_mass(g, i, k)), i,
				  false);
			share_out(g, pair_mass(g, i, k), k, true);
			take_back_doubles(g, pair_mass(g, i, k), i, k);
		}
	}
}

/* The probability of what is no sender. Where it may not have slept at all, nothing woke it. */
static double of_no_sender(const struct group *g, enum nod_suspect_kind kind)
{
	double share = exp((kind == NOD_SUSPECT_UNSEEN ? g->unseen : g->nothing) - g->total);

	if (kind == NOD_SUSPECT_UNSEEN)
		return (1 - MODEL_DOUBT) * g->woken * share + MODEL_DOUBT;
	return (1 - MODEL_DOUBT) * (g->woken * share + 1 - g->woken);
}

/* Gives each hypothesis its probability; a sender of several networks, and
 * what is no sender, is given it once. */
static void assign(struct group *g)
{
	for (size_t i = 0; i < g->count; i++)
		for (size_t k = 0; k < g->members[i]->count; k++) {
			struct nod_hypothesis *h = &g->members[i]->hypotheses[k];
			h->probability = 0;
			if (h->kind == NOD_SUSPECT_SENDER) {
				h->probability = (1 - MODEL_DOUBT) * g->woken *
						 g->of_sender[h->sender];
				g->of_sender[h->sender] = 0;
			} else if (i == 0 && (h->kind == NOD_SUSPECT_UNSEEN ||
					      h->kind == NOD_SUSPECT_NOTHING)) {
				h->probability = of_no_sender(g, h->kind);
			}
			g->members[i]->unslept = 1 - g->woken;
		}
}

static int solve(struct group *g)
{
	struct nod_arena *arena = g->members[0]->a->arena;
	size_t n = g->count, senders = g->members[0]->a->f->sender_count;
	double *room = nod_arena_alloc(arena, (5 * n + 2 * senders + 1) * sizeof(*room));

	if (!room)
		return -ENOMEM;
	g->forward = room;
	g->mass = room + n;
	g->mass_untested = room + 2 * n;
	g->set = room + 3 * n;
	g->person = room + 4 * n;
	g->of_sender = room + 5 * n;
	g->of_first = g->of_sender + senders;
	measure(g);
	sum_up(g);
	spread_over_senders(g);
	assign(g);
	return 0;
}

int nod_posterior(struct nod_weighing *all, size_t count)
{
	struct nod_arena *arena = all[0].a->arena;
	struct nod_weighing **members = nod_arena_alloc(arena, (count + 1) * sizeof(*members));
	bool *done = nod_arena_alloc(arena, (count + 1) * sizeof(*done));

	if (!members || !done)
		return -ENOMEM;
	for (size_t i = 0; i < count; i++) {
		struct group g = {.members = members};
		for (size_t k = i; k < count; k++)
			if (!done[k] && all[k].tentative == all[i].tentative) {
				members[g.count++] = &all[k];
				done[k] = true;
			}
		if (g.count && solve(&g))
			return -ENOMEM;
	}
	return 0;
}
