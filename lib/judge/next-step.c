/* SPDX-License-Identifier: MIT */
/* What to do next: wait with what is out, put it back, repair what is proved, isolate what
 * tells most, listen elsewhere, or go on recording. */
#include <math.h>

#include "analysis.h"
#include "chance.h"
#include "next-test.h"

static void find_record_longer(struct nod_analysis *a)
{
	for (size_t i = 0; !a->f->in_use && i < a->f->network_count; i++) {
		const struct nod_network_finding *n = &a->f->networks[i];
		nod_duration left = nod_time_since(n->deadline, a->f->end);
		left.ns += n->quiet_time.ns;
		if (n->verdict == NOD_VERDICT_CANNOT_TELL && n->span_count && left.ns > 0 &&
		    left.ns > a->f->record_longer.ns)
			a->f->record_longer = left;
	}
}

#define UNPLUG_TESTER                                                                               \
	"Disconnect the tester or dongle, lock the car again and record until the settle deadline " \
	"has passed."

#define SAY_LOCKED                                                                                \
	"If it is a car that was locked all the time, say so (--locked \"+0 s\", or the time of " \
	"day): then being awake is a finding. "

static bool tester_is_first(const struct nod_findings *f)
{
	return f->culprit != NOD_NONE && f->suspects[f->culprit].role == NOD_ROLE_TESTER;
}

/* Awake past what would be its deadline, if it was parked. */
static bool is_endless(const struct nod_analysis *a)
{
	bool late = false;

	for (size_t i = 0; i < a->f->network_count; i++)
		late |= a->f->networks[i].awake_late.ns > 0;
	return late && !a->parked;
}

/* Too short to tell whether the car was parked: then it may as well be in use. */
static const char *leave_locked(struct nod_analysis *a)
{
	bool said = a->f->lock_source != NOD_LOCK_FROM_START || a->f->use_count;

	return nod_arena_printf(
		a->arena,
		said ? "Leave the car locked and record for at least %s more."
		     : "If the car is locked, leave it so and record for at least %s more; whether it "
		       "was, nothing says. If not, lock it, note when, and record from then on.",
		nod_analysis_length(a, a->f->record_longer));
}

static const char *when_unsure(struct nod_analysis *a)
{
	if (!a->f->ident_count)
		return "Check bitrate and pins; measure the volts of each wire to ground: about 2.5 V "
		       "is awake, about 0 V asleep. Try another tap behind the gateway.";
	if (tester_is_first(a->f) || nod_findings_only_a_tester(a->f) ||
	    (!a->parked && nod_analysis_tester_talks(a)))
		return UNPLUG_TESTER;
	if (nod_analysis_may_be_bench(a))
		return nod_arena_printf(
			a->arena,
			"%sOn a bench there is no car that could sleep. In a car, listen where more "
			"of it is heard (another tap, behind the gateway), from the lock until past its "
			"settle deadline.",
			is_endless(a) ? SAY_LOCKED : "");
	if (a->f->in_use)
		return "Switch the car off, lock it and leave it alone; record from then on until its "
		       "settle deadline has passed.";
	if (is_endless(a))
		return SAY_LOCKED
			"Else switch it off, lock it and leave it alone; record from then on "
			"until its settle deadline has passed.";
	if (nod_time_is_set((nod_time){a->f->record_longer.ns}))
		return leave_locked(a);
	return "Record again from the lock until past the settle deadline, without gaps; where "
	       "nothing is heard, measure at the pins or listen behind the gateway.";
}

/* ---- something is out ---- */

/* What was isolated last and not refitted; NULL: nothing is out. */
static const struct nod_isolation_finding *out_now(const struct nod_findings *f)
{
	const struct nod_isolation_finding *last = f->isolation_count
							   ? &f->isolations[f->isolation_count - 1]
							   : NULL;

	return last && !nod_time_is_set(last->refitted) ? last : NULL;
}

static const char *wait(struct nod_analysis *a, const struct nod_isolation_finding *t,
			nod_duration whole, const char *why)
{
	nod_time until = nod_time_after(t->isolated, whole);
	nod_duration left = nod_time_since(until, a->f->end);

	return nod_arena_printf(a->arena,
				"%s is out since %s: leave it out and wait until %s, %s more%s.",
				t->subject, nod_analysis_when(a, t->isolated),
				nod_analysis_when(a, until), nod_analysis_length(a, left), why);
}

/* It slept, and that may have been chance: only the other direction tells. */
static const char *put_back(struct nod_analysis *a, const struct nod_isolation_finding *t)
{
	nod_duration allowed = t->network == NOD_NONE
				       ? t->slept_after
				       : a->f->vehicle->networks[t->network].sleeps_within;

	return nod_arena_printf(
		a->arena,
		"Put %s back, mark it (refitted %s), and watch for %s: awake for longer "
		"than that, or woken again, speaks for it; asleep within it does not.",
		t->subject, t->subject, nod_analysis_length(a, allowed));
}

/* NULL when waiting tells no more. */
static const char *with_it_out(struct nod_analysis *a, const struct nod_isolation_finding *t)
{
	nod_duration sleep = nod_seconds(NOD_PROOF_SLEEP_S), whole;
	bool slept = t->result == NOD_ISOLATION_SLEPT;

	whole.ns = t->slept_after.ns + sleep.ns;
	if (slept && t->network != NOD_NONE && t->by_chance <= NOD_PROOF_CHANCE &&
	    nod_time_since(a->f->end, t->isolated).ns < whole.ns)
		return wait(a, t, whole, ": so long a sleep is proof");
	if (slept)
		return put_back(a, t);
	if (t->result != NOD_ISOLATION_UNDECIDED || t->network == NOD_NONE)
		return NULL;
	whole = nod_isolation_patience(a->f, t);
	return nod_time_since(a->f->end, t->isolated).ns < whole.ns
		       ? wait(a, t, whole, "; what changes nothing by then is innocent")
		       : NULL;
}

/* It is back: awake for longer than it may take to fall asleep tells. NULL: nothing is, or that
 * has been seen. */
static const char *with_it_back(struct nod_analysis *a)
{
	const struct nod_findings *f = a->f;
	const struct nod_isolation_finding *t = f->isolation_count
							? &f->isolations[f->isolation_count - 1]
							: NULL;

	if (!t || !nod_time_is_set(t->refitted) || t->result != NOD_ISOLATION_SLEPT ||
	    t->network == NOD_NONE)
		return NULL;
	const struct nod_network_finding *n = nod_analysis_network(a, t->network);
	nod_time until = nod_time_after(t->refitted,
					f->vehicle->networks[t->network].sleeps_within);
	nod_duration left = nod_time_since(until, f->end);
	if (n->state != NOD_STATE_AWAKE || left.ns <= 0)
		return NULL;
	return nod_arena_printf(
		a->arena,
		"%s is back since %s: wait until %s, %s more, and touch nothing: "
		"%s awake for longer than that, or woken again, speaks for it; asleep "
		"by then does not.",
		t->subject, nod_analysis_when(a, t->refitted), nod_analysis_when(a, until),
		nod_analysis_length(a, left), n->name);
}

/* ---- in trouble ---- */

/* True when what was kept awake sleeps by now: to isolate something then tells nothing. A
 * waker is looked for asleep. */
static bool sleeps_now(const struct nod_findings *f)
{
	for (size_t i = 0; i < f->network_count; i++)
		if (f->networks[i].state == NOD_STATE_AWAKE)
			return false;
	return f->verdict == NOD_VERDICT_KEPT_AWAKE;
}

static const char *isolate(struct nod_analysis *a, const struct nod_isolation_finding *out)
{
	const struct nod_test_proposal *p = a->f->proposals;
	int on = a->f->suspect_count ? a->f->suspects[0].network : NOD_NONE;
	const char *back =
		out ? nod_arena_printf(a->arena, "Put %s back and mark it. ", out->subject)
		: sleeps_now(a->f)
			? "It sleeps now, and would whatever is pulled: lock the car anew and "
			  "wait until it is awake past its deadline. Then: "
			: "";

	return nod_arena_printf(
		a->arena,
		"%sIsolate %s and watch %s for %.0f min (%.0f %% that the cause hangs "
		"on it)%s%s. Mark it: isolated %s.",
		back, p->what, on == NOD_NONE ? "the network" : a->f->networks[on].name, p->minutes,
		100 * fmin(p->hit, 0.99), *p->caution ? "; caution: " : "", p->caution,
		p->fuse != NOD_NONE ? a->f->vehicle->fuses[p->fuse].name
				    : a->f->vehicle->modules[p->module].name);
}

/* From here on another tap is worth more than what can be isolated here. Chosen. */
#define ELSEWHERE_MIN 0.5

/* Alone for so many of its longest intervals: who comes now and then would have come. Chosen. */
#define ALONE_INTERVALS 3
#define ALONE_MIN_NS (1800 * NOD_NS_PER_S)

static const char *leave_alone(struct nod_analysis *a)
{
	nod_duration alone = {ALONE_MIN_NS / ALONE_INTERVALS};

	for (size_t i = 1; i < a->f->wake_count; i++) {
		int64_t interval = nod_time_since(a->f->wakes[i].time, a->f->wakes[i - 1].time).ns;
		alone.ns = interval > alone.ns ? interval : alone.ns;
	}
	alone.ns *= ALONE_INTERVALS;
	return nod_arena_printf(
		a->arena,
		"Go on recording for %s with nobody at the car and its keys far away, and "
		"mark whatever is done to it: what wakes it then is a fault.",
		nod_analysis_length(a, alone));
}

/* By no fuse or plug of the map. */
static const char *isolate_unmapped(struct nod_analysis *a, const struct nod_suspect *s)
{
	const struct nod_findings *f = a->f;
	const struct nod_sender_finding *sender = s->sender == NOD_NONE ? NULL
									: &f->senders[s->sender];

	if (sender && sender->kind == NOD_SENDER_MODULE &&
	    nod_test_is_forbidden(&f->vehicle->modules[sender->module]))
		return nod_arena_printf(
			a->arena,
			"Do not isolate %s by hand: the vehicle maker's procedure and somebody "
			"licensed for it come first. Look at what it hears and reports meanwhile: "
			"its inputs, its fault memory.",
			s->name);
	return nod_arena_printf(a->arena,
				"Isolate %s while recording (the wiring diagram shows its fuse or "
				"plug), and mark it: nodoff tells whether the network sleeps "
				"without it.",
				s->name);
}

static const char *in_trouble(struct nod_analysis *a)
{
	const struct nod_findings *f = a->f;
	const struct nod_isolation_finding *out = out_now(f);
	const char *waiting = out ? with_it_out(a, out) : with_it_back(a);

	if (tester_is_first(f))
		return UNPLUG_TESTER;
	if (f->culprit != NOD_NONE && f->suspects[f->culprit].proved)
		return nod_arena_printf(
			a->arena, "Repair %s, then record the car again to prove that it sleeps.",
			f->suspects[f->culprit].name);
	if (waiting)
		return waiting;
	if (nod_findings_rather_a_person(f))
		return leave_alone(a);
	if (f->suspect_count && f->suspects[0].kind == NOD_SUSPECT_UNSEEN &&
	    f->suspects[0].probability >= ELSEWHERE_MIN)
		return "Listen on another tap while this goes on: behind the gateway, at a module's "
		       "own plug, or on the networks that were not recorded. What keeps the car awake "
		       "hardly shows here.";
	if (!f->proposal_count && f->culprit != NOD_NONE)
		return isolate_unmapped(a, &f->suspects[f->culprit]);
	if (!f->proposal_count)
		return "Isolate one module after the other while recording, and mark each: nodoff "
		       "tells which one lets the network sleep.";
	return isolate(a, out);
}

const char *nod_analysis_next_step(struct nod_analysis *a)
{
	find_record_longer(a);
	switch (a->f->verdict) {
	case NOD_VERDICT_KEPT_AWAKE:
	case NOD_VERDICT_WOKEN:
		return in_trouble(a);
	case NOD_VERDICT_SLEEPS:
		return "Nothing on these networks. If the battery still goes flat, measure the "
		       "current, and the millivolts across each fuse.";
	case NOD_VERDICT_DRAWS:
		return "Measure the millivolts across each fuse, without pulling any: a network that "
		       "sleeps does not draw this current.";
	default:
		return when_unsure(a);
	}
}
