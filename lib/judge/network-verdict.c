/* SPDX-License-Identifier: MIT */
/* Each network on its own: did it sleep by its deadline, and stay asleep? */
#include "analysis.h"
#include "isolation.h"
#include "wakes-cost.h"

/* Later than this share of the time given is late: the deadline itself is a round figure. */
#define LATE_SHARE 0.005

/* Who sleeps after all was slow up to this share of the time given, and kept awake beyond.
 * Chosen: of a deadline from the map, a round figure; of nodoff's own, which may be far off. */
#define SLOW_SHARE_GIVEN 0.05
#define SLOW_SHARE_DEFAULT 1.0

bool nod_analysis_is_unexplained_wake(const struct nod_analysis *a, int network,
				      const struct nod_span_finding *span)
{
	return span->slept_before && span->from.ns > a->f->lock.ns &&
	       !nod_analysis_cause_of(a, span->from) && !nod_analysis_use_at(a, span->from) &&
	       !nod_analysis_is_amid_traffic(a, network, span->from) &&
	       !nod_analysis_is_expected_at(a, span->from);
}

static void take_span(struct nod_analysis *a, struct nod_network_finding *n, size_t i,
		      struct nod_wake_tally *tally)
{
	const struct nod_span_finding *span = &n->spans[i];
	bool slept_after = nod_span_slept_after(n, i);
	int64_t silence = nod_span_silence_known(n, i, a->f->end).ns;

	if (nod_analysis_is_unexplained_wake(a, n->network, span))
		tally->woken = nod_ns_add(tally->woken, nod_time_since(span->to, span->from).ns);
	n->awake_late.ns = nod_ns_add(n->awake_late.ns,
				      nod_analysis_late_overlap(a, n->network, span->from,
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
		return nod_arena_printf(
			a->arena,
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

static int64_t given_time(const struct nod_analysis *a, const struct nod_network_finding *n)
{
	return a->engine->vehicle->networks[n->network].sleeps_within.ns;
}

/* Who sleeps within this is as good as in time. */
static int64_t tolerance(const struct nod_analysis *a, const struct nod_network_finding *n)
{
	int64_t share = (int64_t)(LATE_SHARE * (double)given_time(a, n));

	return n->deadline_default || share < NOD_LATE_MIN_NS ? NOD_LATE_MIN_NS : share;
}

/* Who sleeps after all, and not far beyond the deadline, was slow: beyond nodoff's own default,
 * which is a guess, that may be how this car is; beyond the map's it is said, and no module is
 * accused. Where something was isolated, that may be why it slept. */
static bool was_only_slow(const struct nod_analysis *a, const struct nod_network_finding *n)
{
	double share = n->deadline_default ? SLOW_SHARE_DEFAULT : SLOW_SHARE_GIVEN;

	return n->state == NOD_STATE_ASLEEP && (n->deadline_default || !a->f->isolation_count) &&
	       (double)n->awake_late.ns <= share * (double)given_time(a, n);
}

/* Awake past the deadline for any other reason than a wake-up after sleep. */
static bool held_past_deadline(const struct nod_analysis *a, const struct nod_network_finding *n)
{
	bool slept = false; /* or may have: how it woke was not heard */

	for (size_t i = 0; i < n->span_count; i++) {
		const struct nod_span_finding *span = &n->spans[i];
		nod_time to = span->open ? a->f->end : span->to;
		/* in so long a hole somebody may have been at the car as well */
		slept |= i && nod_time_since(span->from, n->spans[i - 1].to).ns > given_time(a, n);
		int64_t late = nod_analysis_late_overlap(a, n->network, span->from, to).ns;
		if (late > (span->slept_after ? tolerance(a, n) : NOD_LATE_MIN_NS) &&
		    !nod_analysis_is_unexplained_wake(a, n->network, span) &&
		    !nod_analysis_is_expected_at(a, span->from) &&
		    (span->slept_before || !slept ||
		     nod_time_since(to, span->from).ns > given_time(a, n)))
			return true;
		slept |= span->slept_after;
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

/* It fell silent, and that is not known to be sleep. */
static void judge_silent(struct nod_analysis *a, struct nod_network_finding *n)
{
	nod_time last = n->spans[n->span_count - 1].to;

	if (nod_time_is_set(n->spans[n->span_count - 1].hole_from))
		settle(n, NOD_VERDICT_CANNOT_TELL,
		       nod_arena_printf(
			       a->arena,
			       "%s fell silent at %s, all at once, as if the plug had been pulled "
			       "or the power had gone: that is not known to be sleep.",
			       n->name, nod_analysis_when(a, last)));
	else
		settle(n, NOD_VERDICT_CANNOT_TELL,
		       nod_arena_printf(
			       a->arena,
			       "%s fell silent, but frames were lost or nobody listened, so "
			       "that is not known to be sleep.",
			       n->name));
}

/* Its deadline is over, and nothing was late. */
static void judge_awake_again(struct nod_analysis *a, struct nod_network_finding *n)
{
	const struct nod_span_finding *last = &n->spans[n->span_count - 1];
	const char *reason;

	if (last->slept_before)
		reason = nod_arena_printf(
			a->arena,
			"%s slept and was woken again; at the end it was awake since %s, not for "
			"long enough to tell whether it stays so.",
			n->name, nod_analysis_when(a, last->from));
	else if (nod_time_is_set(n->slept_at))
		reason = nod_arena_printf(
			a->arena, "%s slept at %s and is awake again; how it woke was not heard.",
			n->name, nod_analysis_when(a, n->slept_at));
	else
		reason = nod_arena_printf(
			a->arena,
			"%s was not listened to for long enough after its settle deadline.",
			n->name);
	settle(n, NOD_VERDICT_CANNOT_TELL, reason);
}

static void judge_unfinished(struct nod_analysis *a, struct nod_network_finding *n)
{
	nod_duration left = nod_time_since(n->deadline, a->f->end);

	if (nod_time_is_set(n->deaf_since))
		settle(n, NOD_VERDICT_CANNOT_TELL,
		       nod_arena_printf(
			       a->arena,
			       "Nobody has listened to %s since %s; until then it had not slept.",
			       n->name, nod_analysis_when(a, n->deaf_since)));
	else if (n->state == NOD_STATE_UNKNOWN)
		judge_silent(a, n);
	else if (a->f->in_use)
		settle(n, NOD_VERDICT_CANNOT_TELL,
		       nod_arena_printf(
			       a->arena,
			       "The car is in use up to the end (%s), so nothing can be said of "
			       "the sleep of %s.",
			       nod_analysis_use_sign(a, &a->f->uses[a->f->use_count - 1]),
			       n->name));
	else if (a->engine->in_use)
		settle(n, NOD_VERDICT_CANNOT_TELL, "The car was not locked at the end.");
	else if (left.ns <= 0)
		judge_awake_again(a, n);
	else
		settle(n, NOD_VERDICT_CANNOT_TELL,
		       nod_arena_printf(
			       a->arena,
			       "%s is still awake, and its settle deadline is %s later than "
			       "what was listened to.",
			       n->name, nod_analysis_length(a, left)));
}

/* Frames that everybody destroys: the traffic cannot be read, so nothing is known of it. */
static void judge_errors(struct nod_analysis *a, struct nod_network_finding *n)
{
	n->slept_at = n->first_slept_at = NOD_TIME_NONE;
	n->asleep_known.ns = 0;
	settle(n, NOD_VERDICT_CANNOT_TELL,
	       nod_arena_printf(
		       a->arena,
		       "Nothing but error frames was heard of %s: the bitrate is wrong, the "
		       "wires are swapped, shorted or without their terminators, or nobody "
		       "else is there.",
		       n->name));
}

static void judge_bench(struct nod_analysis *a, struct nod_network_finding *n)
{
	settle(n, NOD_VERDICT_CANNOT_TELL,
	       nod_arena_printf(
		       a->arena,
		       "%s carries so little that its silences tell nothing: it may be one "
		       "module on a bench, switched off and on, or a car of which hardly "
		       "anything is heard here.",
		       n->name));
}

static void judge_renamed(struct nod_analysis *a, struct nod_network_finding *n)
{
	const struct nod_network_finding *next = &a->f->networks[n->goes_on_as];

	settle(n, NOD_VERDICT_CANNOT_TELL,
	       nod_arena_printf(
		       a->arena,
		       "%s breaks off at %s, and its messages go on in their rhythm as %s "
		       "from %s: one network whose interface got another name, and no sleep.",
		       n->name, nod_analysis_when(a, n->spans[n->span_count - 1].to), next->name,
		       nod_analysis_when(a, next->spans[0].from)));
}

static void judge_slow(struct nod_analysis *a, struct nod_network_finding *n)
{
	const char *late = nod_analysis_length(a, n->awake_late);
	const char *given = nod_analysis_length(a, (nod_duration){given_time(a, n)});

	settle(n, NOD_VERDICT_LATE,
	       n->deadline_default
		       ? nod_arena_printf(
				 a->arena,
				 "%s slept at %s, %s after nodoff's own default deadline (%s); whether "
				 "that is late for this car, the maker's documents say.",
				 n->name, nod_analysis_when(a, n->slept_at), late, given)
		       : nod_arena_printf(
				 a->arena,
				 "%s slept at %s, %s after its deadline (%s), %.0f %% later than it "
				 "should.",
				 n->name, nod_analysis_when(a, n->slept_at), late, given,
				 100 * (double)n->awake_late.ns / (double)given_time(a, n)));
}

static const char *few_wakes(struct nod_analysis *a, const struct nod_network_finding *n,
			     const struct nod_wake_tally *tally)
{
	if (!n->wakes || tally->woken + tally->asleep <= 0)
		return "";
	return nod_arena_printf(
		a->arena, " It was woken %u time%s%s: too little to flatten a battery.%s", n->wakes,
		n->wakes == 1 ? "" : "s", nod_analysis_wakes_cost(a, n, tally),
		nod_analysis_likely_meant(a, n));
}

static void judge_woken(struct nod_analysis *a, struct nod_network_finding *n,
			const struct nod_wake_tally *tally)
{
	settle(n, NOD_VERDICT_WOKEN,
	       nod_arena_printf(a->arena, "%s slept and was woken again %u time%s%s.%s", n->name,
				n->wakes, n->wakes == 1 ? "" : "s",
				nod_analysis_wakes_cost(a, n, tally),
				nod_analysis_likely_meant(a, n)));
}

static void judge_asleep(struct nod_analysis *a, struct nod_network_finding *n,
			 const struct nod_wake_tally *tally)
{
	settle(n, NOD_VERDICT_SLEEPS,
	       nod_arena_printf(a->arena, "%s slept at %s and was silent for %s.%s", n->name,
				nod_analysis_when(a, n->slept_at),
				nod_analysis_length(a, nod_time_since(a->f->end, n->since)),
				few_wakes(a, n, tally)));
}

static void judge_slept(struct nod_analysis *a, struct nod_network_finding *n)
{
	settle(n, NOD_VERDICT_SLEEPS,
	       nod_arena_printf(
		       a->arena,
		       "%s slept at %s and was silent for %s, until nobody listened any more.",
		       n->name, nod_analysis_when(a, n->slept_at),
		       nod_analysis_length(a, nod_time_since(n->slept_until, n->slept_at))));
}

static void judge(struct nod_analysis *a, struct nod_network_finding *n)
{
	struct nod_wake_tally tally = {0, 0};

	if (!n->span_count) {
		settle(n, NOD_VERDICT_CANNOT_TELL, nothing_heard(a, n));
		return;
	}
	for (size_t i = 0; i < n->span_count; i++)
		take_span(a, n, i, &tally);
	n->judged_by = n->deadline;
	if (n->errors && n->errors >= n->frames) {
		judge_errors(a, n);
	} else if (n->goes_on_as != NOD_NONE) {
		judge_renamed(a, n);
	} else if (nod_analysis_is_switched_bench(a)) {
		judge_bench(a, n);
	} else if (held_past_deadline(a, n) && !a->parked) {
		settle(n, NOD_VERDICT_CANNOT_TELL, nod_analysis_not_parked(a, n));
	} else if (held_past_deadline(a, n) && !was_only_slow(a, n)) {
		judge_awake(a, n);
	} else if (nod_analysis_wakes_matter(a, n, &tally)) {
		judge_woken(a, n, &tally);
	} else if (held_past_deadline(a, n)) {
		judge_slow(a, n);
	} else if (n->state == NOD_STATE_ASLEEP && !a->f->in_use) {
		judge_asleep(a, n, &tally);
	} else if (nod_time_is_set(n->slept_until) && nod_span_slept_after(n, n->span_count - 1)) {
		judge_slept(a, n);
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
