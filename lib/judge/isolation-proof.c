/* SPDX-License-Identifier: MIT */
#include "isolations.h"

#include <math.h>

#include "dating.h"
#include "intervals.h"

/* A refit is looked at from here on, and said something of when it was watched for this
 * long: its own disturbance comes first, and the mark may be late. Chosen. */
#define REFIT_SEEN_NS (20 * NOD_NS_PER_S)
#define REFIT_MIN_NS (60 * NOD_NS_PER_S)

/* With the part back, another one may take hold again just as it let go before. Chosen. */
#define REFIT_CHANCE_MIN 0.1

/* Awake with the part back: long enough when no more of the time that it may take is left. Chosen. */
#define REFIT_LEFT_MOST 0.5

/* An isolation after whose refit it slept again: at least so likely by chance. Chosen. */
#define SLEPT_AGAIN_CHANCE 0.5

/* ---- a network that was awake ---- */

/* How far the isolation was from the moment at which the network is due to sleep, ns: it
 * counts from the last thing before it that started the settle clock. */
static int64_t ahead_of_deadline(const struct isolation *t)
{
	const struct nod_engine *engine = t->a->engine;
	const struct nod_clock_start *clock = NULL;

	for (size_t i = 0; i < engine->clock_count && engine->clocks[i].time.ns < t->from.ns; i++)
		clock = &engine->clocks[i];
	if (!clock || clock->in_use)
		return 0;
	return nod_time_since(nod_engine_deadline(engine, t->network->network, clock->time),
			      t->from)
		.ns;
}

static nod_duration late_before(const struct isolation *t)
{
	return nod_analysis_late_overlap(t->a, t->network->network, t->network->spans[t->span].from,
					 t->from);
}

/* That a wake-up, awake for so long, ends within the window: by those before it that lasted
 * as long (Laplace's rule). When none did, by how much longer than all it lasted. */
static double wake_ends(const struct isolation *t, int64_t awake, int64_t window)
{
	unsigned as_long = 0, ended = 0;
	int64_t longest = 0;

	for (size_t i = 0; i < t->span; i++) {
		const struct nod_span_finding *span = &t->network->spans[i];
		int64_t length = nod_time_since(span->to, span->from).ns;
		if (!span->slept_before || !nod_span_slept_after(t->network, i))
			continue;
		longest = length > longest ? length : longest;
		as_long += length >= awake;
		ended += length >= awake && length < awake + window;
	}
	if (as_long)
		return (ended + 1.0) / (as_long + 2.0);
	return nod_chance_ends((double)(awake - longest), (double)window);
}

/* The time in which a sleep would have looked as if it came of the isolation: the hand came before
 * the mark, or after it. Where the sleep alone dates the hand: all that in which it would have. */
static int64_t window_of(const struct isolation *t, nod_time slept)
{
	return t->mark->by_sleep       ? NOD_DATING_LATE_NS + NOD_HAND_USUAL_NS
	       : slept.ns < t->from.ns ? 2 * NOD_HAND_USUAL_NS
				       : nod_time_since(slept, t->from).ns + NOD_HAND_USUAL_NS;
}

/* How likely it was to sleep then by itself. */
static double sleep_by_chance(const struct isolation *t, int64_t window)
{
	const struct nod_span_finding *span = &t->network->spans[t->span];
	int64_t allowed = t->a->engine->vehicle->networks[t->network->network].sleeps_within.ns;
	int64_t late = late_before(t).ns, ahead = ahead_of_deadline(t);

	/* With nothing holding it, it would have slept sooner. And what spoke again before it was
	 * noted as out was not out before. */
	if (t->out->slept_after.ns > allowed || (t->unnoted && t->to.ns <= t->mark->entered.ns))
		return 1;
	if (span->slept_before && span->from.ns > t->a->f->lock.ns &&
	    !nod_analysis_cause_of(t->a, span->from))
		return wake_ends(t, nod_time_since(t->from, span->from).ns, window);
	int64_t distance = late <= 0 ? ahead : ahead <= 0 || late < ahead ? late : ahead;
	return nod_chance_ends((double)distance, (double)window);
}

/* ---- wake-ups ---- */

/* When the car first slept after the lock: from there on it could have been woken. */
static nod_time first_sleep(const struct nod_findings *f)
{
	nod_time first = NOD_TIME_NONE;

	for (size_t n = 0; n < f->network_count; n++)
		for (size_t i = 0; i < f->networks[n].span_count; i++) {
			nod_time slept = f->networks[n].spans[i].to;
			if (!nod_span_slept_after(&f->networks[n], i) || slept.ns < f->lock.ns)
				continue;
			if (!nod_time_is_set(first) || slept.ns < first.ns)
				first = slept;
			break;
		}
	return first;
}

/* How likely it was that nothing woke the car for so long, by the wake-ups before the
 * isolation that nothing in the journal explains; *wakes of them. */
static double silence_by_chance(const struct isolation *t, nod_duration silent, unsigned *wakes)
{
	const struct nod_findings *f = t->a->f;
	struct nod_intervals in = nod_intervals_of_wakes(f, NOD_NONE, t->from);
	nod_time slept = first_sleep(f);

	*wakes = nod_time_is_set(in.first) ? (unsigned)in.count + 1 : 0;
	if (!*wakes || !nod_time_is_set(slept))
		return 1;
	return nod_intervals_chance(&in, *wakes, nod_time_since(t->from, slept), silent);
}

/* The next wake-up that nothing explains, else `until`. */
static nod_time next_wake(const struct isolation *t, nod_time from, nod_time until, bool *woke)
{
	const struct nod_findings *f = t->a->f;
	nod_time next = until;

	for (size_t i = 0; i < f->wake_count; i++) {
		const struct nod_wake_finding *w = &f->wakes[i];
		if (!*w->cause && w->time.ns > from.ns && w->time.ns < next.ns)
			next = w->time;
	}
	*woke = next.ns < until.ns;
	return next;
}

/* Woken as before with the part back says the same of every waker: it only shows that the
 * trouble did not end by itself. */
static void judge_waker_back(struct isolation *t)
{
	bool again;

	next_wake(t, nod_time_after(t->to, (nod_duration){REFIT_SEEN_NS}), t->a->f->end, &again);
	if (!nod_time_is_set(t->out->refitted) || !again)
		return;
	t->out->refit = NOD_REFIT_AWAKE;
	t->lasted = t->both_ways = true;
}

void nod_isolation_wakes(struct isolation *t)
{
	struct nod_isolation_finding *out = t->out;
	unsigned wakes;
	bool woke;
	const char *when = nod_analysis_when(t->a, t->from);
	nod_time end = next_wake(t, t->from, t->to, &woke);

	out->network = NOD_NONE;
	t->silent = out->slept_after = nod_time_since(end, t->from);
	const char *silent = nod_analysis_length(t->a, out->slept_after);
	double chance = silence_by_chance(t, out->slept_after, &wakes);
	if (!wakes) {
		out->text = nod_arena_printf(t->a->arena,
					     "%s isolated at %s: no network was awake then.",
					     out->subject, when);
		return;
	}
	t->fault = true;
	if (woke) {
		out->result = NOD_ISOLATION_UNCHANGED;
		out->text = nod_arena_printf(
			t->a->arena,
			"%s isolated at %s: the car was woken all the same, %s "
			"later.",
			out->subject, when, silent);
		return;
	}
	out->result = NOD_ISOLATION_SLEPT;
	out->by_chance = chance;
	judge_waker_back(t);
	t->did = nod_arena_printf(
		t->a->arena,
		"%s isolated at %s: nothing woke the car for %s (%u wake-up%s before)%s",
		out->subject, when, silent, wakes, wakes == 1 ? "" : "s",
		out->refit == NOD_REFIT_AWAKE ? "; refitted, it was woken again" : "");
}

/* ---- the refit ---- */

/* It stayed awake for so long with the part back. */
static void judge_back_awake(struct isolation *t, int64_t awake, int64_t allowed)
{
	double left = 1 - (double)awake / (double)allowed;

	if (awake < REFIT_MIN_NS)
		return;
	t->out->refit = NOD_REFIT_AWAKE;
	t->out->refit_by_chance = fmax(left, REFIT_CHANCE_MIN);
	t->lasted = left <= REFIT_LEFT_MOST;
	t->both_ways = left <= REFIT_CHANCE_MIN;
	t->fault |= awake > allowed;
}

/* What its network did with the part back, until somebody did something else. */
static void judge_refit(struct isolation *t)
{
	const struct nod_network_finding *n = t->network;
	int64_t allowed = t->a->engine->vehicle->networks[n->network].sleeps_within.ns;
	int i = nod_isolation_span_at(n, nod_time_after(t->to, (nod_duration){REFIT_SEEN_NS}));

	if (!nod_time_is_set(t->out->refitted))
		return;
	if (i < 0) { /* nothing of it woke the network */
		bool long_enough = nod_time_since(t->back_until, t->to).ns >= REFIT_MIN_NS;
		t->out->refit = long_enough ? NOD_REFIT_SLEPT : NOD_REFIT_NONE;
		return;
	}
	nod_time end = n->spans[i].open ? t->a->f->end : n->spans[i].to;
	int64_t awake = nod_time_since(end.ns < t->back_until.ns ? end : t->back_until, t->to).ns;
	bool slept = nod_span_slept_after(n, (size_t)i) && end.ns < t->back_until.ns;
	if (slept && awake <= allowed)
		t->out->refit = NOD_REFIT_SLEPT;
	else
		judge_back_awake(t, awake, allowed);
}

/* ---- what happened, in words ---- */

/* A network that was awake when the part was isolated and stayed so all along:
 * what was isolated is not what holds the car. NULL: there is none. */
static const struct nod_network_finding *still_awake(const struct isolation *t)
{
	for (size_t i = 0; i < t->a->f->network_count; i++) {
		const struct nod_network_finding *n = &t->a->f->networks[i];
		int span = nod_isolation_span_at(n, t->from);
		bool awake = span >= 0 &&
			     (n->spans[span].open || n->spans[span].to.ns > t->from.ns);
		if (n != t->network && awake && nod_isolation_sleep_of(t, n, (size_t)span) < 0)
			return n;
	}
	return NULL;
}

static const char *words_after(struct isolation *t, bool woken)
{
	struct nod_isolation_finding *out = t->out;
	const char *refitted = nod_arena_printf(t->a->arena, "%s %s",
						t->unnoted ? "back, though nobody noted it, at"
							   : "refitted at",
						nod_analysis_when(t->a, t->to));

	switch (out->refit) {
	case NOD_REFIT_AWAKE:
		return nod_arena_printf(t->a->arena, "; %s: it %s", refitted,
					woken ? "was woken again" : "woke and stayed awake");
	case NOD_REFIT_SLEPT:
		return nod_arena_printf(t->a->arena, "; %s: it slept again with it in place",
					refitted);
	default:
		return nod_arena_printf(t->a->arena, " and stayed asleep for %s",
					nod_analysis_length(t->a, t->silent));
	}
}

static const char *words_later(const struct isolation *t)
{
	if (t->out->slept_after.ns < NOD_NS_PER_S)
		return "at once";
	return nod_arena_printf(t->a->arena, "%s later",
				nod_analysis_length(t->a, t->out->slept_after));
}

void nod_isolation_slept(struct isolation *t, size_t span)
{
	struct nod_isolation_finding *out = t->out;
	nod_time end = t->network->spans[span].to;
	nod_time woke = nod_span_silence_end(t->network, span, t->a->f->end);
	const struct nod_network_finding *held = still_awake(t);
	unsigned wakes;

	t->silent = nod_time_since(woke.ns < t->to.ns ? woke : t->to, end);
	out->slept_after = nod_time_since(end.ns > t->from.ns ? end : t->from, t->from);
	const char *did = nod_arena_printf(t->a->arena, "%s isolated at %s: %s slept %s",
					   out->subject, nod_analysis_when(t->a, t->from),
					   t->network->name, words_later(t));
	if (held) {
		out->text = nod_arena_printf(t->a->arena, "%s, but %s stayed awake.", did,
					     held->name);
		return;
	}
	out->result = NOD_ISOLATION_SLEPT;
	t->fault = late_before(t).ns > NOD_LATE_MIN_NS;
	out->by_chance = sleep_by_chance(t, window_of(t, end)) *
			 silence_by_chance(t, t->silent, &wakes);
	t->fault |= wakes > 0;
	if (wakes) /* who wakes the car lets it sleep in between, in place or not */
		judge_waker_back(t);
	else
		judge_refit(t);
	t->did = nod_arena_printf(t->a->arena, "%s%s", did, words_after(t, wakes > 0));
}

/* ---- what it proves ---- */

/* What this thing's isolations showed, up to this one. */
struct together {
	double chance; /* of all of it, without the thing */
	unsigned count;
	bool fault, lasted, both_ways;
};

/* Where it slept again with the part in place, it sleeps by itself as well: the isolation
 * counts for little, and only beside others. What changed nothing refutes it. */
static struct together sum_up(const struct isolation *t, const struct isolation *first)
{
	struct together sum = {.chance = 1};

	for (const struct isolation *k = first; k <= t; k++) {
		const struct nod_isolation_finding *out = k->out;
		if (k != t && !nod_isolation_same_thing(t->a->f->vehicle, out, t->out))
			continue;
		if (out->result == NOD_ISOLATION_UNCHANGED)
			return (struct together){.chance = 1};
		if (!k->did)
			continue;
		sum.chance *= out->refit == NOD_REFIT_SLEPT
				      ? fmax(out->by_chance, SLEPT_AGAIN_CHANCE)
				      : out->by_chance * out->refit_by_chance;
		sum.count++;
		sum.fault |= k->fault;
		sum.lasted |= k->lasted;
		sum.both_ways |= k->both_ways;
	}
	return sum;
}

/* How it is proved, or why it is not. */
static const char *words_of_proof(const struct isolation *t, const struct together *sum)
{
	const struct nod_isolation_finding *out = t->out;

	if (out->result == NOD_ISOLATION_PROVED && sum->count > 1)
		return nod_arena_printf(t->a->arena, " Proved by %u isolations together%s.",
					sum->count, sum->both_ways ? ", both ways" : "");
	if (out->result == NOD_ISOLATION_PROVED)
		return sum->both_ways ? " Proved both ways."
		       : out->refit == NOD_REFIT_AWAKE
			       ? " Proved, though it was watched for too short a time with it back."
			       : " Proved by a long clean sleep, not yet by refitting.";
	if (out->refit == NOD_REFIT_SLEPT)
		return " That is no proof.";
	if (sum->chance > NOD_PROOF_CHANCE)
		return nod_arena_printf(
			t->a->arena,
			" Without it the same would have come by chance with %.0f %%: "
			"no proof.",
			100 * fmin(sum->chance, 0.99));
	if (sum->lasted)
		return " It was not late before: no fault is shown.";
	return out->refit == NOD_REFIT_AWAKE
		       ? " Not yet proved: asleep, and then awake with it back, for too short a time."
		       : " Not yet proved: too short, and not yet refitted.";
}

static const char *words_not_back(const struct isolation *t)
{
	return nod_time_is_set(t->not_back)
		       ? nod_arena_printf(t->a->arena,
					  " It was noted as refitted at %s, but none of its "
					  "messages has come back.",
					  nod_analysis_when(t->a, t->not_back))
		       : "";
}

static void conclude(struct isolation *t, const struct isolation *first)
{
	struct nod_isolation_finding *out = t->out;

	if (!t->did)
		return;
	t->lasted |= t->silent.ns >= nod_seconds(NOD_PROOF_SLEEP_S).ns;
	struct together sum = sum_up(t, first);
	if (sum.chance <= NOD_PROOF_CHANCE && sum.lasted && sum.fault &&
	    out->refit != NOD_REFIT_SLEPT)
		out->result = NOD_ISOLATION_PROVED;
	out->text = nod_arena_printf(t->a->arena, "%s.%s%s", t->did, words_of_proof(t, &sum),
				     words_not_back(t));
}

void nod_isolations_conclude(struct isolation *isolations, size_t count)
{
	for (size_t i = 0; i < count; i++)
		conclude(&isolations[i], isolations);
}
