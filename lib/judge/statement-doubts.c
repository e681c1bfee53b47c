/* SPDX-License-Identifier: MIT */
/* What limits the answer. */
#include <string.h>

#include "current-trace.h"
#include "statement.h"

/* A network judged asleep on less silence than this: said as a doubt. */
#define SHORT_SILENCE_NS (600 * NOD_NS_PER_S)

static void doubt_networks(struct nod_analysis *a)
{
	for (size_t i = 0; i < a->f->network_count; i++) {
		const struct nod_network_finding *n = &a->f->networks[i];
		nod_duration silence = nod_time_is_set(n->slept_until)
					       ? nod_time_since(n->slept_until, n->slept_at)
					       : nod_time_since(a->f->end, n->since);
		if (nod_time_is_set(n->deaf_since))
			nod_statement_add(
				a->f->doubts, &a->f->doubt_count,
				nod_arena_printf(
					a->arena,
					"Nobody has listened to %s since %s: what it does is not "
					"known.",
					n->name, nod_analysis_when(a, n->deaf_since)));
		if (n->lost)
			nod_statement_add(
				a->f->doubts, &a->f->doubt_count,
				nod_arena_printf(
					a->arena,
					"%llu frames of %s were lost; silence beside a loss "
					"does not count as sleep.",
					(unsigned long long)n->lost, n->name));
		if (n->errors)
			nod_statement_add(
				a->f->doubts, &a->f->doubt_count,
				nod_arena_printf(
					a->arena,
					"%llu error reports on %s: check wiring, terminators "
					"and the bitrate.",
					(unsigned long long)n->errors, n->name));
		if (n->verdict == NOD_VERDICT_SLEEPS && silence.ns < SHORT_SILENCE_NS)
			nod_statement_add(
				a->f->doubts, &a->f->doubt_count,
				nod_arena_printf(
					a->arena,
					"%s was watched asleep for only %s: a waker that comes "
					"more rarely would not have shown.",
					n->name, nod_analysis_length(a, silence)));
	}
}

static void doubt(struct nod_analysis *a, const char *text)
{
	nod_statement_add(a->f->doubts, &a->f->doubt_count, text);
}

/* Stretches of being awake for which there was no room. */
static void doubt_spans(struct nod_analysis *a, const struct nod_network_finding *n,
			const struct nod_track *track)
{
	doubt(a,
	      nod_arena_printf(a->arena,
			       "%s was awake more than %d times: %llu further stretches are "
			       "neither listed nor judged.",
			       n->name, NOD_SPANS_MAX, (unsigned long long)track->spans_dropped));
}

static void doubt_room_of_networks(struct nod_analysis *a)
{
	for (size_t i = 0; i < a->f->network_count; i++) {
		const struct nod_network_finding *n = &a->f->networks[i];
		const struct nod_track *track = nod_engine_track(a->engine, (size_t)n->network);
		if (track && track->spans_dropped)
			doubt_spans(a, n, track);
		if (track && track->unkept)
			doubt(a,
			      nod_arena_printf(
				      a->arena,
				      "More than %d different IDs: %llu frames of further ones "
				      "on %s are counted, but not judged.",
				      NOD_IDENTS_MAX, (unsigned long long)track->unkept, n->name));
	}
}

/* What there was no room for. */
static void doubt_room(struct nod_analysis *a)
{
	const struct nod_engine *e = a->engine;

	doubt_room_of_networks(a);
	if (e->marks_dropped)
		doubt(a, nod_arena_printf(
				 a->arena,
				 "%zu entries of the journal beyond the first %d are not taken "
				 "into account.",
				 e->marks_dropped, NOD_MARKS_MAX));
	if (e->snapshots_dropped)
		doubt(a, nod_arena_printf(
				 a->arena,
				 "%zu isolations and refits beyond the first %d are not judged.",
				 e->snapshots_dropped, NOD_SNAPSHOTS_MAX));
	if (e->touches_dropped)
		doubt(a,
		      nod_arena_printf(a->arena,
				       "%zu touched inputs beyond the first %d are not looked at.",
				       e->touches_dropped, NOD_TOUCHES_MAX));
}

/* A candump log ends with its last frame, however long it was listened to. */
static void doubt_end(struct nod_analysis *a)
{
	bool awake = false, stopped = false;

	for (size_t i = 0; i < a->f->network_count; i++)
		awake |= a->f->networks[i].verdict == NOD_VERDICT_CANNOT_TELL &&
			 a->f->networks[i].state == NOD_STATE_AWAKE;
	for (size_t i = 0; i < a->f->mark_count; i++)
		stopped |= a->f->marks[i].kind == NOD_MARK_STOPPED;
	if (awake && !stopped && !a->f->in_use && a->f->verdict == NOD_VERDICT_CANNOT_TELL)
		nod_statement_add(
			a->f->doubts, &a->f->doubt_count,
			"The recording ends with a frame. If it was listened to for longer, say until when: "
			"\"# ended: SECONDS\" in the capture, or \"stopped\" in the journal.");
}

static void doubt_late_start(struct nod_analysis *a)
{
	char unheard[NOD_TIME_TEXT];
	const struct nod_findings *f = a->f;

	if (!nod_time_is_set(f->late_start))
		return;
	nod_duration_print(unheard, nod_time_since(f->late_start, f->lock));
	doubt(a, nod_arena_printf(a->arena,
				  "The first %s after the lock were not recorded and say "
				  "nothing: the time to sleep counts from when listening began.",
				  unheard));
}

/* What the recording itself suffered. */
static void doubt_recording(struct nod_analysis *a)
{
	const struct nod_findings *f = a->f;

	if (f->clock_steps)
		nod_statement_add(
			a->f->doubts, &a->f->doubt_count,
			nod_arena_printf(
				a->arena,
				"The recording clock was stepped %llu time%s; later times are "
				"shown as if it had gone on.",
				(unsigned long long)f->clock_steps,
				f->clock_steps == 1 ? "" : "s"));
	if (f->defects)
		nod_statement_add(
			a->f->doubts, &a->f->doubt_count,
			nod_arena_printf(
				a->arena, "%llu line%s of the recording could not be read.",
				(unsigned long long)f->defects, f->defects == 1 ? "" : "s"));
	if (f->gaps)
		nod_statement_add(
			a->f->doubts, &a->f->doubt_count,
			nod_arena_printf(
				a->arena,
				"Nobody listened during %llu gap%s; silence there is unknown.",
				(unsigned long long)f->gaps, f->gaps == 1 ? "" : "s"));
}

void nod_statement_doubts(struct nod_analysis *a)
{
	const struct nod_findings *f = a->f;
	bool default_deadline = false;

	if (!nod_findings_only_a_tester(f))
		nod_analysis_say_holes(a, doubt);
	nod_analysis_say_map(a, doubt);
	for (size_t i = 0; i < f->network_count; i++)
		default_deadline |= f->networks[i].deadline_default && f->networks[i].span_count;
	doubt_late_start(a);
	bool open = f->verdict == NOD_VERDICT_WOKEN || f->verdict == NOD_VERDICT_CANNOT_TELL;
	if (f->frames && open && nod_analysis_may_be_bench(a))
		doubt(a,
		      "So few messages are rather one unit on a bench than a car: there, being switched "
		      "on again looks like a wake-up.");
	if (f->lock_source == NOD_LOCK_FROM_START)
		nod_statement_add(
			a->f->doubts, &a->f->doubt_count,
			"Nothing says when the car was locked: the start of the recording is taken.");
	if (default_deadline)
		nod_statement_add(
			a->f->doubts, &a->f->doubt_count,
			"The time to sleep is nodoff's default (40 min after lock), not this car's.");
	doubt_end(a);
	doubt_networks(a);
	doubt_room(a);
	doubt_recording(a);
}
