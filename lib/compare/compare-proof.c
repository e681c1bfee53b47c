/* SPDX-License-Identifier: MIT */
/* How long a car has to sleep until a fix counts as proved. */
#include "chance.h"
#include "compare.h"
#include "intervals.h"

/* Silence between two spans of a network, or after the last one. */
static nod_duration silence(const struct nod_findings *f, const struct nod_network_finding *n,
			    size_t i)
{
	const struct nod_span_finding *s = &n->spans[i];
	nod_time next = nod_span_silence_end(n, i, f->end);

	if (s->open || !s->silence_known || next.ns <= f->lock.ns)
		return (nod_duration){0};
	nod_duration d = nod_time_since(next, s->to.ns > f->lock.ns ? s->to : f->lock);
	return d.ns >= n->quiet_time.ns ? d : (nod_duration){0};
}

/* A waker may come at any time of all the sleep there was; that a network can
 * sleep shows in one piece. */
nod_duration nod_proof_slept(const struct nod_findings *f, const struct nod_network_finding *n,
			     enum nod_verdict fault)
{
	nod_duration longest = {0};

	if (fault == NOD_VERDICT_WOKEN)
		return n->asleep_known.ns > 0 ? n->asleep_known : (nod_duration){0};
	for (size_t i = 0; i < n->span_count; i++) {
		nod_duration d = silence(f, n, i);
		if (d.ns > longest.ns)
			longest = d;
	}
	return longest;
}

/* Of the wake-ups of this network that nothing explains. */
static struct nod_intervals wake_intervals(const struct nod_findings *f,
					   const struct nod_network_finding *n)
{
	struct nod_intervals in = NOD_INTERVALS_NONE;
	const struct nod_wake_finding *wake = NULL; /* the last one that began before the span */

	for (size_t i = 0, k = 0; i < n->span_count; i++) {
		const struct nod_span_finding *span = &n->spans[i];
		for (; k < f->wake_count && f->wakes[k].time.ns <= span->from.ns; k++)
			wake = &f->wakes[k];
		if (span->slept_before && span->from.ns > f->lock.ns && wake && !*wake->cause)
			nod_intervals_add(&in, span->from);
	}
	return in;
}

/* Rounded up: what a person compares with a watch. */
static nod_duration whole_seconds(nod_duration d)
{
	return (nod_duration){(d.ns + NOD_NS_PER_S - 1) / NOD_NS_PER_S * NOD_NS_PER_S};
}

static const char *why_woken(struct nod_arena *arena, const struct nod_intervals *in, unsigned n,
			     nod_duration watched, nod_duration needed)
{
	char text[NOD_TIME_TEXT], need[NOD_TIME_TEXT];

	if (nod_intervals_are_regular(in))
		return nod_arena_printf(
			arena,
			"before, it was woken as if by a clock, every %s at most; twice that "
			"without a wake-up shows that the clock has stopped",
			nod_duration_print(text, whole_seconds(in->longest)));
	return nod_arena_printf(
		arena,
		"before, it was woken %u time%s in %s, not by a clock; only after %s "
		"of sleep is the chance below 5 %% that such a waker is still there "
		"and just did not come",
		n, n == 1 ? "" : "s", nod_duration_print(text, watched),
		nod_duration_print(need, needed));
}

static nod_duration woken(struct nod_arena *arena, const struct nod_findings *f,
			  const struct nod_network_finding *n, const char **why)
{
	struct nod_intervals in = wake_intervals(f, n);
	nod_time slept = nod_time_is_set(n->first_slept_at) ? n->first_slept_at : f->lock;
	nod_duration watched = nod_time_since(f->end, slept);
	unsigned wakes = n->wakes ? n->wakes : 1;
	nod_duration needed = nod_intervals_silence(&in, wakes, watched);

	*why = why_woken(arena, &in, wakes, watched, needed);
	return needed;
}

nod_duration nod_proof_needed(struct nod_arena *arena, const struct nod_findings *f,
			      const struct nod_network_finding *n, const char **why)
{
	*why = "";
	switch (n->verdict) {
	case NOD_VERDICT_WOKEN:
		return woken(arena, f, n, why);
	case NOD_VERDICT_KEPT_AWAKE:
		*why = "before, it was kept awake; ten minutes of sleep in one piece are more than "
		       "twice what most networks take to settle, so it is not a pause";
		return nod_seconds(NOD_PROOF_SLEEP_S);
	default:
		return NOD_DURATION_NONE;
	}
}
