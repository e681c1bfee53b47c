/* SPDX-License-Identifier: MIT */
/* What the hypotheses of one network say, before the networks are joined. */
#include "posterior-internal.h"

#include <math.h>

#include "holes.h"
#include "wakes-cost.h"

/* Wakefulness reaches a network without a known gateway on it; or through a sender that the
 * map does not know and that may be a gateway's: hardly, where it knows the network's
 * gateway. Chosen. */
#define FORWARD_UNKNOWN (-3.0)
#define FORWARD_UNMAPPED (-0.5)
#define FORWARD_UNMAPPED_BESIDE (-3.5)

double nod_log_add(double a, double b)
{
	double top = fmax(a, b);

	return isinf(top) ? top : top + log(exp(a - top) + exp(b - top));
}

double nod_posterior_evidence(const struct nod_hypothesis *h, enum nod_evidence kind)
{
	for (size_t i = 0; i < h->evidence_count; i++)
		if (h->evidence[i].kind == kind)
			return h->evidence[i].weight;
	return 0;
}

/* True for what was done to the car, or is known of it, once and not once on each of its
 * networks: isolations, fuses, earlier sessions, like cars. */
static bool is_of_car(enum nod_evidence kind)
{
	switch (kind) {
	case NOD_EV_ISOLATED_SLEPT:
	case NOD_EV_REFIT_WOKE:
	case NOD_EV_REFIT_SLEPT:
	case NOD_EV_ISOLATED_UNCHANGED:
	case NOD_EV_FUSE_CARRIES:
	case NOD_EV_FUSE_DEAD:
	case NOD_EV_EARLIER:
	case NOD_EV_LIKE_CARS:
		return true;
	default:
		return false;
	}
}

double nod_posterior_of_car(const struct nod_hypothesis *h)
{
	double sum = 0;

	for (size_t i = 0; i < h->evidence_count; i++)
		sum += is_of_car(h->evidence[i].kind) ? h->evidence[i].weight : 0;
	return sum;
}

static bool is_gateway(const struct nod_weighing *w, const struct nod_hypothesis *h)
{
	return h->kind == NOD_SUSPECT_SENDER && w->tallies[h->sender]->gateway;
}

bool nod_posterior_is_own(const struct nod_weighing *w, const struct nod_hypothesis *h)
{
	return h->kind == NOD_SUSPECT_SENDER && !w->tallies[h->sender]->gateway;
}

/* Which of the network's gateways are known to the map: one by its messages, one by what it says
 * in network management. */
struct gateways {
	bool known, manage;
};

static struct gateways gateways_of(const struct nod_weighing *w)
{
	struct gateways g = {false, false};

	for (size_t i = 0; i < w->count; i++) {
		g.known |= is_gateway(w, &w->hypotheses[i]);
		g.manage |= is_gateway(w, &w->hypotheses[i]) &&
			    w->tallies[w->hypotheses[i].sender]->node;
	}
	return g;
}

/* What the map does not know may be the gateway's; who takes part in network management beside
 * a known one that does not, may well be it. */
static double unmapped_forward(const struct nod_tally *t, struct gateways g)
{
	bool beside = g.known && (g.manage || !t->node);

	return beside ? FORWARD_UNMAPPED_BESIDE : FORWARD_UNMAPPED;
}

/* That a gateway's data move as an input does is no sign that it passes on what a module of
 * another network wants; that it keeps its pace and speaks out of turn is. */
static double without_input(const struct nod_hypothesis *h)
{
	return h->score - fmax(0, nod_posterior_evidence(h, NOD_EV_PAYLOAD));
}

double nod_posterior_forward(const struct nod_weighing *w)
{
	double best = FORWARD_UNKNOWN;
	struct gateways g = gateways_of(w);

	for (size_t i = 0; i < w->count; i++) {
		const struct nod_hypothesis *h = &w->hypotheses[i];
		if (is_gateway(w, h))
			best = fmax(best, without_input(h) - NOD_PRIOR_GATEWAY);
		else if (h->kind == NOD_SUSPECT_SENDER && w->tallies[h->sender]->unmapped)
			best = fmax(best,
				    without_input(h) + unmapped_forward(w->tallies[h->sender], g));
	}
	return best;
}

/* Who is in the set "all that still request hold it together". */
bool nod_posterior_in_set(const struct nod_weighing *w, const struct nod_hypothesis *h)
{
	return nod_posterior_is_own(w, h) && nod_weighing_requests(w, w->tallies[h->sender]);
}

/* The set has the only-request strength together, and on average what else
 * speaks for or against its members. That there are several causes is no surprise then:
 * the protocol knows no other reason for which several nodes go on requesting. */
double nod_posterior_set(const struct nod_weighing *w)
{
	double others = 0;
	unsigned members = 0;

	if (!(w->held || w->tentative) || w->common < 2 || w->common > 4 ||
	    (w->requesting >= w->nodes && !w->passive))
		return -INFINITY;
	for (size_t i = 0; i < w->count; i++)
		if (nod_posterior_in_set(w, &w->hypotheses[i])) {
			others += w->hypotheses[i].score -
				  nod_posterior_evidence(&w->hypotheses[i], NOD_EV_NM_REQUEST);
			members++;
		}
	double strength = nod_evidence_rule(NOD_EV_NM_ONLY_REQUEST)->strength;
	return (w->tentative ? 0.5 : 1) * strength + others / (members ? members : 1);
}

/* The probability that the network was asleep before span i, which began with a claimed wake-up. */
static double asleep_before(const struct nod_network_finding *n, size_t i)
{
	const struct nod_span_finding *before = &n->spans[i - 1];

	if (!nod_time_is_set(before->hole_from))
		return before->asleep;
	if (before->hole_to.ns < n->spans[i].from.ns)
		return 1; /* listened to after a hole: the claim stands on that */
	return fmax(before->asleep, NOD_SLEEP_CLAIMED);
}

double nod_posterior_woken(const struct nod_weighing *w)
{
	const struct nod_network_finding *n = w->n;
	double never = 1;

	if (w->held || w->tentative)
		return 1;
	for (size_t i = 1; i < n->span_count; i++)
		if (nod_analysis_is_unexplained_wake(w->a, n->network, &n->spans[i]))
			never *= 1 - asleep_before(n, i);
	return 1 - never;
}
