/* SPDX-License-Identifier: MIT */
/* One network under two names: the adapter came back as another interface, or somebody gave it
 * another name, in the middle of the recording. What went on under the first name goes on under the
 * second: the same messages in the same rhythm. The first has not slept. */
#include <math.h>

#include "analysis.h"
#include "silence.h"
#include "track.h"

/* An adapter that drops out is back after seconds, one that is plugged in anew within a minute.
 * Chosen. */
#define BACK_NS (90 * NOD_NS_PER_S)

/* Messages that ran to the end of the first; most of them go on in the second, and little else is
 * heard there. Chosen: a gateway hands on a part of a network, and not from its end on. */
#define RUNNING_MIN 3
#define SAME_SHARE 0.8
#define SAME_PERIOD 0.1

/* Frames of one moment come in any order. */
#define BESIDE_NS (100 * NOD_NS_PER_MS)

/* With fewer, each has to come in its turn, as if nothing had happened. */
#define TURN 0.5 /* of the period, early or late */

struct likeness {
	unsigned running, same, begun, in_turn;
};

static bool has_period(const struct nod_ident *ident, struct nod_period *p)
{
	*p = nod_ident_period(ident);
	return p->rhythm == NOD_RHYTHM_CYCLIC && p->period.ns > 0;
}

static void compare(struct likeness *l, const struct nod_ident *ident, const struct nod_track *next,
		    nod_time end)
{
	struct nod_period before, after;
	const struct nod_ident *other = nod_idents_find(&next->idents, ident->id);

	if (!has_period(ident, &before) ||
	    !nod_silence_is_running(&before, nod_time_since(end, ident->last).ns))
		return;
	l->running++;
	if (!other || !has_period(other, &after) ||
	    fabs((double)after.period.ns / (double)before.period.ns - 1) > SAME_PERIOD)
		return;
	double turn = (double)nod_time_since(other->first, ident->last).ns;
	l->same++;
	l->in_turn += fabs(turn / (double)before.period.ns - 1) <= TURN;
}

static bool is_same(const struct likeness *l)
{
	if (l->running < RUNNING_MIN)
		return l->running && l->in_turn == l->running && l->begun == l->running;
	return l->same >= SAME_SHARE * l->running && l->same >= SAME_SHARE * l->begun;
}

static struct likeness compare_all(const struct nod_track *track, const struct nod_track *next,
				   nod_time end)
{
	struct likeness l = {0, 0, 0, 0};
	struct nod_period p;

	for (uint32_t i = 0; i < track->idents.count; i++)
		compare(&l, &track->idents.items[i], next, end);
	for (uint32_t i = 0; i < next->idents.count; i++)
		l.begun += has_period(&next->idents.items[i], &p) &&
			   nod_time_since(next->idents.items[i].first, end).ns <=
				   BACK_NS + 2 * p.period.ns;
	return l;
}

static bool goes_on_as(const struct nod_analysis *a, const struct nod_network_finding *n,
		       const struct nod_network_finding *next)
{
	if (n == next || !n->span_count || !next->span_count || n->state == NOD_STATE_AWAKE)
		return false;
	nod_time end = n->spans[n->span_count - 1].to, begin = next->spans[0].from;
	int64_t away = nod_time_since(begin, end).ns;
	if (away < -BESIDE_NS || away > BACK_NS)
		return false;
	struct likeness l = compare_all(nod_engine_track(a->engine, (size_t)n->network),
					nod_engine_track(a->engine, (size_t)next->network), end);
	return is_same(&l);
}

static void forget_hole(struct nod_findings *f, const struct nod_network_finding *n, nod_time from)
{
	size_t kept = 0;

	for (size_t i = 0; i < f->hole_count; i++)
		if (f->holes[i].network != n->network || f->holes[i].from.ns != from.ns)
			f->holes[kept++] = f->holes[i];
	f->hole_count = kept;
}

static void join(struct nod_analysis *a, struct nod_network_finding *n,
		 struct nod_network_finding *next)
{
	struct nod_span_finding *last = &n->spans[n->span_count - 1];

	n->goes_on_as = (int)(next - a->f->networks);
	n->state = NOD_STATE_UNKNOWN;
	n->since = last->to;
	n->slept_until = NOD_TIME_NONE;
	last->slept_after = last->silence_known = false;
	forget_hole(a->f, n, last->to);
	next->spans[0].slept_before = false;
}

void nod_analysis_find_renamed(struct nod_analysis *a)
{
	for (size_t i = 0; i < a->f->network_count; i++)
		for (size_t k = 0; k < a->f->network_count; k++)
			if (goes_on_as(a, &a->f->networks[i], &a->f->networks[k])) {
				join(a, &a->f->networks[i], &a->f->networks[k]);
				break;
			}
}
