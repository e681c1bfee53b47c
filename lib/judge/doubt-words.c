/* SPDX-License-Identifier: MIT */
/* The words of each kind of doubt. */
#include "statement.h"

nod_duration nod_statement_silence(const struct nod_findings *f,
				   const struct nod_network_finding *n)
{
	return nod_time_is_set(n->slept_until) ? nod_time_since(n->slept_until, n->slept_at)
					       : nod_time_since(f->end, n->since);
}

static const struct nod_track *track_of(const struct nod_analysis *a, int network)
{
	return nod_engine_track(a->engine, (size_t)a->f->networks[network].network);
}

static const char *more_holes(struct nod_analysis *a, size_t told)
{
	const struct nod_findings *f = a->f;
	nod_duration more = {0};

	for (size_t i = told; i < f->hole_count; i++)
		more.ns = nod_ns_add(more.ns, nod_time_since(f->holes[i].to, f->holes[i].from).ns);
	return nod_arena_printf(a->arena,
				"Of %zu more silences (%s in all) it is not known either whether "
				"anybody listened.",
				f->hole_count - told, nod_analysis_length(a, more));
}

static const char *late_start(struct nod_analysis *a)
{
	char unheard[NOD_TIME_TEXT];

	nod_duration_print(unheard, nod_time_since(a->f->late_start, a->f->lock));
	return nod_arena_printf(
		a->arena,
		"The first %s after the lock were not recorded and say nothing: the "
		"time to sleep counts from when listening began.",
		unheard);
}

/* Of this network and all behind it of which it is true. */
static const char *watched_briefly(struct nod_analysis *a, int first)
{
	const char *said = "";

	for (size_t i = (size_t)first; i < a->f->network_count; i++) {
		const struct nod_network_finding *n = &a->f->networks[i];
		const char *before = *said ? ", " : "", *what = *said ? "" : " was watched asleep";
		if (nod_statement_is_short(a->f, n))
			said = nod_arena_printf(
				a->arena, "%s%s%s%s for only %s", said, before, n->name, what,
				nod_analysis_length(a, nod_statement_silence(a->f, n)));
	}
	return nod_arena_printf(a->arena,
				"%s: a waker that comes more rarely would not have shown.", said);
}

/* Those of one network. */
static const char *of_network(struct nod_analysis *a, struct nod_about about)
{
	const struct nod_network_finding *n = &a->f->networks[about.of];

	switch (about.kind) {
	case NOD_DOUBT_DEAF:
		return nod_arena_printf(
			a->arena, "Nobody has listened to %s since %s: what it does is not known.",
			n->name, nod_analysis_when(a, n->deaf_since));
	case NOD_DOUBT_LOST:
		return nod_arena_printf(a->arena,
					"%llu frames of %s were lost; silence beside a loss does "
					"not count as sleep.",
					(unsigned long long)n->lost, n->name);
	case NOD_DOUBT_ERRORS:
		return nod_arena_printf(a->arena,
					"%llu error reports on %s: check wiring, terminators and "
					"the bitrate.",
					(unsigned long long)n->errors, n->name);
	case NOD_DOUBT_SHORT:
		return watched_briefly(a, about.of);
	case NOD_DOUBT_SPANS:
		return nod_arena_printf(
			a->arena,
			"%s was awake more than %d times: %llu further times are neither "
			"listed nor judged.",
			n->name, NOD_SPANS_MAX,
			(unsigned long long)track_of(a, about.of)->spans_dropped);
	default:
		return nod_arena_printf(a->arena,
					"More than %d different IDs: %llu frames of further ones "
					"on %s are counted, but not judged.",
					NOD_IDENTS_MAX,
					(unsigned long long)track_of(a, about.of)->unkept, n->name);
	}
}

/* Those of the times in it. */
static const char *of_clock(struct nod_analysis *a, enum nod_doubt kind)
{
	const struct nod_findings *f = a->f;
	char length[NOD_TIME_TEXT];

	switch (kind) {
	case NOD_DOUBT_CLOCK:
		return nod_arena_printf(a->arena,
					"The recording clock was stepped %llu time%s; later times "
					"are shown as if it had gone on.",
					(unsigned long long)(f->clock_steps - f->restarts),
					f->clock_steps - f->restarts == 1 ? "" : "s");
	case NOD_DOUBT_RESTARTS:
		return nod_arena_printf(
			a->arena,
			"Time runs back %llu time%s where the traffic does not go on: there is "
			"more than one recording in this file, or the clock was set while nobody "
			"spoke. How long it was in between is not known; from there on the time "
			"to sleep counts anew. Better give each recording for itself.",
			(unsigned long long)f->restarts, f->restarts == 1 ? "" : "s");
	default:
		nod_duration_print(length, f->lag);
		return nod_arena_printf(
			a->arena,
			"The clock of %s is %s behind that of the others; its times are "
			"moved by that.",
			f->lagging, length);
	}
}

/* Those of the engine's room, and of what the recording suffered. */
static const char *of_recording(struct nod_analysis *a, enum nod_doubt kind)
{
	const struct nod_findings *f = a->f;
	const struct nod_engine *e = a->engine;

	switch (kind) {
	case NOD_DOUBT_MARKS:
		return nod_arena_printf(
			a->arena,
			"%zu marks of the journal beyond the first %d are not taken into account.",
			e->marks_dropped, NOD_MARKS_MAX);
	case NOD_DOUBT_ISOLATIONS:
		return nod_arena_printf(
			a->arena, "%zu isolations and refits beyond the first %d are not judged.",
			e->snapshots_dropped, NOD_SNAPSHOTS_MAX);
	case NOD_DOUBT_TOUCHES:
		return nod_arena_printf(a->arena,
					"%zu touched inputs beyond the first %d are not looked at.",
					e->touches_dropped, NOD_TOUCHES_MAX);
	case NOD_DOUBT_CLOCK:
	case NOD_DOUBT_RESTARTS:
	case NOD_DOUBT_LAGGING:
		return of_clock(a, kind);
	case NOD_DOUBT_DEFECTS:
		return nod_arena_printf(a->arena, "%llu line%s of the recording could not be read.",
					(unsigned long long)f->defects, f->defects == 1 ? "" : "s");
	default:
		return nod_arena_printf(
			a->arena, "Nobody listened during %llu gap%s; silence there is unknown.",
			(unsigned long long)f->gaps, f->gaps == 1 ? "" : "s");
	}
}

const char *nod_doubt_words(struct nod_analysis *a, struct nod_about about)
{
	switch ((enum nod_doubt)about.kind) {
	case NOD_DOUBT_HOLE:
		return a->f->holes[about.of].text;
	case NOD_DOUBT_MORE_HOLES:
		return more_holes(a, (size_t)about.of);
	case NOD_DOUBT_MAP_NETWORKS:
		return nod_map_networks_words(a);
	case NOD_DOUBT_MAP_MARKS:
		return nod_map_marks_words(a);
	case NOD_DOUBT_LATE_START:
		return late_start(a);
	case NOD_DOUBT_BENCH:
		return "So few messages are rather one module on a bench than a car: there, being "
		       "switched on again looks like a wake-up.";
	case NOD_DOUBT_NO_LOCK:
		return "Nothing says when the car was locked: the start of the recording is taken.";
	case NOD_DOUBT_DEADLINE:
		return "The time to sleep is nodoff's default (40 min after lock), not this car's.";
	case NOD_DOUBT_END:
		return "The recording ends with a frame. If it was listened to for longer, say until "
		       "when: \"# ended: SECONDS\" in the capture, or \"stopped\" in the journal.";
	case NOD_DOUBT_DEAF:
	case NOD_DOUBT_LOST:
	case NOD_DOUBT_ERRORS:
	case NOD_DOUBT_SHORT:
	case NOD_DOUBT_SPANS:
	case NOD_DOUBT_IDS:
		return of_network(a, about);
	default:
		return of_recording(a, (enum nod_doubt)about.kind);
	}
}
