/* Each network on its own: did it sleep by its deadline, and stay asleep? */
#include "analysis.h"
#include "isolation.h"

/* A wake-up matters when the awake time it adds, at the current of an awake
 * car, is worth more than a quarter of the key-off limit: common practice, no
 * source: around 2 A awake against 50 mA, so 50/4/2000 of the time. Above
 * that the car is "woken again"; below, the wake-ups are listed only. */
#define WAKE_SHARE_MIN 0.00625

/* So many wake-ups matter however short: what runs on after each of them does not
 * show on the network. Chosen. */
#define WAKES_MIN 3

struct tally {
	int64_t woken;	/* ns awake in spans that nothing in the journal explains */
	int64_t asleep; /* ns of silence listened to since the first sleep */
};

static bool is_unexplained_wake(const struct nod_analysis *a, const struct nod_span_finding *span)
{
	return span->slept_before && span->from.ns > a->f->lock.ns &&
	       !nod_analysis_cause_of(a, span->from);
}

static void take_span(struct nod_analysis *a, struct nod_network_finding *n, size_t i,
		      struct tally *tally)
{
	const struct nod_span_finding *span = &n->spans[i];
	bool slept_after = nod_span_slept_after(n, i);
	int64_t silence = nod_span_silence_known(n, i, a->f->end).ns;

	if (is_unexplained_wake(a, span))
		tally->woken = nod_ns_add(tally->woken, nod_time_since(span->to, span->from).ns);
	n->awake_late.ns = nod_ns_add(
		n->awake_late.ns, nod_analysis_late_overlap(a, n->network, span->from,
							    span->open ? a->f->end : span->to)
					  .ns);
	if (!slept_after || nod_span_silence_end(n, i, a->f->end).ns <= a->f->lock.ns)
		return;
	n->slept_at = span->to;
	if (!nod_time_is_set(n->first_slept_at))
		n->first_slept_at = span->to;
	n->asleep_known.ns = nod_ns_add(n->asleep_known.ns, silence);
	tally->asleep = nod_ns_add(tally->asleep, silence);
}

static const char *nothing_heard(struct nod_analysis *a, const struct nod_network_finding *n)
{
	if (nod_time_is_set(n->deaf_since))
		return nod_arena_printf(a->arena,
					"Nobody has listened to %s since %s, and nothing was heard of it "
					"before.",
					n->name, nod_analysis_when(a, n->deaf_since));
	return nod_arena_printf(a->arena,
				"Nothing was heard of %s here. That is not the same as asleep: a "
				"gateway may hide it from this connector.",
				n->name);
}

/* Without a deadline, or in use, nothing is late. */
static void find_late(struct nod_analysis *a, struct nod_network_finding *n)
{
	const struct nod_engine *engine = a->engine;

	n->late = nod_arena_alloc(a->arena, (engine->clock_count + 1) * sizeof(*n->late));
	for (size_t i = 0; n->late && i < engine->clock_count; i++) {
		nod_time from = nod_engine_deadline(engine, n->network, engine->clocks[i].time);
		nod_time to = i + 1 < engine->clock_count ? engine->clocks[i + 1].time : a->f->end;
		if (!engine->clocks[i].in_use && from.ns < to.ns)
			n->late[n->late_count++] = (struct nod_late){from, to};
	}
}

static void settle(struct nod_network_finding *n, enum nod_verdict verdict, const char *reason)
{
	n->verdict = verdict;
	n->reason = reason;
}

static bool was_late(const struct nod_network_finding *n)
{
	return n->awake_late.ns > NOD_LATE_MIN_NS;
}

static bool wakes_matter(const struct nod_network_finding *n, const struct tally *tally)
{
	int64_t watched = tally->woken + tally->asleep;

	return watched > 0 && (n->wakes >= WAKES_MIN ||
			       (n->wakes && (double)tally->woken / (double)watched >=
						    WAKE_SHARE_MIN));
}

/* Awake past the deadline for any other reason than a wake-up after sleep. */
static bool held_past_deadline(const struct nod_analysis *a, const struct nod_network_finding *n)
{
	for (size_t i = 0; i < n->span_count; i++) {
		const struct nod_span_finding *span = &n->spans[i];
		nod_time to = span->open ? a->f->end : span->to;
		int64_t late = nod_analysis_late_overlap(a, n->network, span->from, to).ns;
		if (late > NOD_LATE_MIN_NS && !is_unexplained_wake(a, span))
			return true;
	}
	return false;
}

/* The first deadline that it missed. */
static nod_time missed(const struct nod_network_finding *n)
{
	for (size_t i = 0; i < n->late_count; i++)
		if (nod_network_awake(n, n->late[i].from.ns, n->late[i].to.ns) > NOD_LATE_MIN_NS)
			return n->late[i].from;
	return n->deadline;
}

static void judge_awake(struct nod_analysis *a, struct nod_network_finding *n)
{
	n->judged_by = missed(n);
	if (n->state == NOD_STATE_ASLEEP)
		settle(n, NOD_VERDICT_KEPT_AWAKE,
		       nod_arena_printf(a->arena,
					"%s was awake for %s past its settle deadline and slept at "
					"%s.",
					n->name, nod_analysis_length(a, n->awake_late),
					nod_analysis_when(a, n->slept_at)));
	else
		settle(n, NOD_VERDICT_KEPT_AWAKE,
		       nod_arena_printf(a->arena,
					"%s has been awake for %s past its settle deadline.",
					n->name, nod_analysis_length(a, n->awake_late)));
}

static void judge_unfinished(struct nod_analysis *a, struct nod_network_finding *n)
{
	nod_duration left = nod_time_since(n->deadline, a->f->end);

	if (nod_time_is_set(n->deaf_since))
		settle(n, NOD_VERDICT_CANNOT_TELL,
		       nod_arena_printf(a->arena,
					"Nobody has listened to %s since %s; until then it had not slept.",
					n->name, nod_analysis_when(a, n->deaf_since)));
	else if (n->state == NOD_STATE_UNKNOWN &&
	    nod_time_is_set(n->spans[n->span_count - 1].hole_from))
		settle(n, NOD_VERDICT_CANNOT_TELL,
		       nod_arena_printf(a->arena,
					"%s fell silent at %s, all at once, as if the plug had been pulled "
					"or the power had gone: that is not known to be sleep.",
					n->name,
					nod_analysis_when(a, n->spans[n->span_count - 1].to)));
	else if (n->state == NOD_STATE_UNKNOWN)
		settle(n, NOD_VERDICT_CANNOT_TELL,
		       nod_arena_printf(a->arena,
					"%s fell silent, but frames were lost or nobody listened, so "
					"that is not known to be sleep.",
					n->name));
	else if (a->engine->in_use)
		settle(n, NOD_VERDICT_CANNOT_TELL, "The car was not locked at the end.");
	else if (left.ns <= 0)
		settle(n, NOD_VERDICT_CANNOT_TELL,
		       nod_arena_printf(a->arena,
					"%s was not listened to for long enough after its settle "
					"deadline.",
					n->name));
	else
		settle(n, NOD_VERDICT_CANNOT_TELL,
		       nod_arena_printf(a->arena,
					"%s is still awake, and its settle deadline is %s later than "
					"what was listened to.",
					n->name, nod_analysis_length(a, left)));
}

static void judge(struct nod_analysis *a, struct nod_network_finding *n)
{
	struct tally tally = {0, 0};

	if (!n->span_count) {
		settle(n, NOD_VERDICT_CANNOT_TELL, nothing_heard(a, n));
		return;
	}
	for (size_t i = 0; i < n->span_count; i++)
		take_span(a, n, i, &tally);
	n->judged_by = n->deadline;
	if (was_late(n) && held_past_deadline(a, n)) {
		judge_awake(a, n);
	} else if (wakes_matter(n, &tally)) {
		settle(n, NOD_VERDICT_WOKEN,
		       nod_arena_printf(a->arena, "%s slept and was woken again %u time%s.", n->name,
					n->wakes, n->wakes == 1 ? "" : "s"));
	} else if (n->state == NOD_STATE_ASLEEP) {
		settle(n, NOD_VERDICT_SLEEPS,
		       nod_arena_printf(a->arena, "%s slept at %s and was silent for %s.", n->name,
					nod_analysis_when(a, n->slept_at),
					nod_analysis_length(a, nod_time_since(a->f->end,
									      n->since))));
	} else if (nod_time_is_set(n->slept_until) && nod_span_slept_after(n, n->span_count - 1)) {
		settle(n, NOD_VERDICT_SLEEPS,
		       nod_arena_printf(a->arena,
					"%s slept at %s and was silent for %s, until nobody listened any "
					"more.",
					n->name, nod_analysis_when(a, n->slept_at),
					nod_analysis_length(a, nod_time_since(n->slept_until,
									      n->slept_at))));
	} else {
		judge_unfinished(a, n);
	}
}

void nod_analysis_judge_networks(struct nod_analysis *a)
{
	for (size_t i = 0; i < a->f->network_count; i++) {
		find_late(a, &a->f->networks[i]); /* the arena knows when memory ran out */
		judge(a, &a->f->networks[i]);
	}
}
