/* SPDX-License-Identifier: MIT */
/* Whether anything says that the car was parked while it was recorded. A car that is switched on,
 * or one module on a bench, talks without end, too: where nobody said when it was locked, somebody
 * has to be seen going to sleep before being awake is a finding. */
#include "analysis.h"
#include "isolation.h"
#include "track.h"

/* Messages that stop while their network goes on: so many, and so large a share of the cyclic
 * ones, are modules that were switched off or went to sleep. Chosen: a module that is left out of a
 * drive has two or three. */
#define STOPPED_MIN 3
#define STOPPED_SHARE 0.1

/* ... and have stopped when they are overdue by so many periods and so long. Chosen. */
#define OVERDUE_PERIODS 10
#define OVERDUE_NS (30 * NOD_NS_PER_S)
#define FRAMES_MIN 5

struct run_down {
	unsigned cyclic, stopped;
};

static void count(struct run_down *r, const struct nod_ident *ident, nod_time end)
{
	struct nod_period p = nod_ident_period(ident);
	int64_t age = nod_time_since(end, ident->last).ns;

	if (p.rhythm != NOD_RHYTHM_CYCLIC || p.period.ns <= 0 ||
	    nod_ident_frames(ident) < FRAMES_MIN)
		return;
	r->cyclic++;
	r->stopped += age > OVERDUE_NS && age / OVERDUE_PERIODS > p.period.ns;
}

/* Part of it has gone to sleep, or was switched off. */
static bool ran_down(const struct nod_analysis *a, const struct nod_network_finding *n)
{
	const struct nod_track *track = nod_engine_track(a->engine, (size_t)n->network);
	struct run_down r = {0, 0};

	for (uint32_t i = 0; n->span_count && i < track->idents.count; i++)
		count(&r, &track->idents.items[i], n->spans[n->span_count - 1].to);
	return r.stopped >= STOPPED_MIN && r.stopped >= STOPPED_SHARE * r.cyclic;
}

/* A machine at work has networks that fall silent now and then, and others that never do: what
 * sleeps in a parked car sleeps with all, or on and on. Chosen. */
#define ASLEEP_ALONE_NS (120 * NOD_NS_PER_S)

/* Some other network was awake then. */
static bool others_talk(const struct nod_findings *f, const struct nod_network_finding *n,
			nod_time from, nod_time to)
{
	for (size_t i = 0; i < f->network_count; i++)
		if (&f->networks[i] != n && nod_network_awake(&f->networks[i], from.ns, to.ns))
			return true;
	return false;
}

static bool slept(const struct nod_findings *f, const struct nod_network_finding *n)
{
	for (size_t i = 0; i < n->span_count; i++) {
		nod_time to = nod_span_silence_end(n, i, f->end);
		bool woke = i + 1 < n->span_count && n->spans[i + 1].slept_before;
		if ((n->spans[i].slept_after || woke) &&
		    (nod_time_since(to, n->spans[i].to).ns >= ASLEEP_ALONE_NS ||
		     !others_talk(f, n, n->spans[i].to, to)))
			return true;
	}
	return false;
}

/* Who takes something out looks for what keeps a parked car awake. */
static bool is_searched(const struct nod_findings *f)
{
	for (size_t i = 0; i < f->mark_count; i++)
		if (f->marks[i].kind == NOD_MARK_ISOLATED)
			return true;
	return false;
}

bool nod_analysis_is_parked(const struct nod_analysis *a)
{
	const struct nod_findings *f = a->f;

	if (f->lock_source != NOD_LOCK_FROM_START || f->use_count || is_searched(f))
		return true;
	for (size_t i = 0; i < f->network_count; i++) {
		const struct nod_network_finding *n = &f->networks[i];
		if (!n->span_count)
			continue;
		/* who knows how long it may take brings a map for this */
		if (!n->deadline_default || slept(f, n) || ran_down(a, n))
			return true;
	}
	return false;
}

/* A tester, or a dongle, talks somewhere: it may keep a parked car awake as well. */
bool nod_analysis_tester_talks(const struct nod_analysis *a)
{
	for (size_t i = 0; i < a->f->network_count; i++) {
		const struct nod_network_finding *n = &a->f->networks[i];
		if (n->span_count && nod_engine_track(a->engine, (size_t)n->network)->tester_heard)
			return true;
	}
	return false;
}

const char *nod_analysis_not_parked(struct nod_analysis *a, const struct nod_network_finding *n)
{
	const char *length = nod_analysis_length(a, nod_time_since(a->f->end, n->spans[0].from));

	if (nod_analysis_tester_talks(a))
		return nod_arena_printf(
			a->arena,
			"%s was awake all the time (%s), but nothing says that the car was parked, "
			"and a diagnostic tester or a dongle talks: it keeps modules awake by design.",
			n->name, length);
	if (nod_analysis_may_be_bench(a))
		return nod_arena_printf(
			a->arena,
			"%s was awake all the time (%s), but nothing says that a car was locked, and "
			"so little is heard that it may be a module on a bench, a car that is switched "
			"on, or the last sender of one that sleeps.",
			n->name, length);
	return nod_arena_printf(
		a->arena,
		"%s was awake all the time (%s), but nothing says that the car was parked: no lock "
		"is noted, nothing slept and no messages stopped. A car that is switched on looks "
		"the same.",
		n->name, length);
}
