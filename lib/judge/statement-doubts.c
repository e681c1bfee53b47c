/* SPDX-License-Identifier: MIT */
/* What limits the answer. The words of each doubt: doubt-words.c. */
#include "statement.h"

/* A network judged asleep on less silence than this: said as a doubt. */
#define SHORT_SILENCE_NS (600 * NOD_NS_PER_S)

static bool is_said(const struct nod_findings *f, enum nod_doubt kind, size_t of)
{
	for (size_t i = 0; i < f->doubt_count; i++)
		if (f->doubts_about[i].kind == (int)kind && f->doubts_about[i].of == (int)of)
			return true;
	return false;
}

static void doubt(struct nod_analysis *a, enum nod_doubt kind, size_t of)
{
	struct nod_findings *f = a->f;
	struct nod_about about = {(int)kind, (int)of, 0};

	if (f->doubt_count == NOD_STATEMENT_LINES || is_said(f, kind, of))
		return;
	const char *text = nod_doubt_words(a, about);
	if (!text)
		return;
	f->doubts_about[f->doubt_count] = about;
	f->doubts[f->doubt_count++] = text;
}

static void doubt_if(struct nod_analysis *a, bool is_so, enum nod_doubt kind)
{
	if (is_so)
		doubt(a, kind, 0);
}

static void doubt_holes(struct nod_analysis *a)
{
	size_t count = a->f->hole_count;
	size_t told = count > NOD_HOLES_TOLD ? NOD_HOLES_TOLD - 1 : count;

	for (size_t i = 0; i < told; i++)
		doubt(a, NOD_DOUBT_HOLE, i);
	if (told < count)
		doubt(a, NOD_DOUBT_MORE_HOLES, told);
}

static void doubt_network(struct nod_analysis *a, size_t i)
{
	const struct nod_network_finding *n = &a->f->networks[i];

	if (nod_time_is_set(n->deaf_since))
		doubt(a, NOD_DOUBT_DEAF, i);
	if (n->lost)
		doubt(a, NOD_DOUBT_LOST, i);
	if (n->errors)
		doubt(a, NOD_DOUBT_ERRORS, i);
}

bool nod_statement_is_short(const struct nod_findings *f, const struct nod_network_finding *n)
{
	return n->verdict == NOD_VERDICT_SLEEPS &&
	       nod_statement_silence(f, n).ns < SHORT_SILENCE_NS;
}

/* Of all networks at once. */
static void doubt_short(struct nod_analysis *a)
{
	for (size_t i = 0; i < a->f->network_count; i++)
		if (nod_statement_is_short(a->f, &a->f->networks[i])) {
			doubt(a, NOD_DOUBT_SHORT, i);
			return;
		}
}

/* What there was no room for. */
static void doubt_room(struct nod_analysis *a)
{
	for (size_t i = 0; i < a->f->network_count; i++) {
		int network = a->f->networks[i].network;
		const struct nod_track *track = nod_engine_track(a->engine, (size_t)network);
		if (track && track->spans_dropped)
			doubt(a, NOD_DOUBT_SPANS, i);
		if (track && track->unkept)
			doubt(a, NOD_DOUBT_IDS, i);
	}
	doubt_if(a, a->engine->marks_dropped, NOD_DOUBT_MARKS);
	doubt_if(a, a->engine->snapshots_dropped, NOD_DOUBT_ISOLATIONS);
	doubt_if(a, a->engine->touches_dropped, NOD_DOUBT_TOUCHES);
}

/* A candump log ends with its last frame, however long it was listened to. */
static bool may_have_gone_on(const struct nod_findings *f)
{
	bool awake = false, stopped = false;

	for (size_t i = 0; i < f->network_count; i++)
		awake |= f->networks[i].verdict == NOD_VERDICT_CANNOT_TELL &&
			 f->networks[i].state == NOD_STATE_AWAKE;
	for (size_t i = 0; i < f->mark_count; i++)
		stopped |= f->marks[i].kind == NOD_MARK_STOPPED;
	return awake && !stopped && !f->in_use && f->verdict == NOD_VERDICT_CANNOT_TELL;
}

static bool is_deadline_default(const struct nod_findings *f)
{
	for (size_t i = 0; i < f->network_count; i++)
		if (f->networks[i].deadline_default && f->networks[i].span_count)
			return true;
	return false;
}

void nod_statement_doubts(struct nod_analysis *a)
{
	const struct nod_findings *f = a->f;
	bool open = f->verdict == NOD_VERDICT_WOKEN || f->verdict == NOD_VERDICT_CANNOT_TELL;

	if (!nod_findings_only_a_tester(f))
		doubt_holes(a);
	doubt_if(a, f->restarts, NOD_DOUBT_RESTARTS);
	doubt(a, NOD_DOUBT_MAP_NETWORKS, 0);
	doubt(a, NOD_DOUBT_MAP_MARKS, 0);
	doubt_if(a, nod_time_is_set(f->late_start), NOD_DOUBT_LATE_START);
	doubt_if(a, f->frames && open && nod_analysis_may_be_bench(a), NOD_DOUBT_BENCH);
	doubt_if(a, f->lock_source == NOD_LOCK_FROM_START, NOD_DOUBT_NO_LOCK);
	doubt_if(a, is_deadline_default(f), NOD_DOUBT_DEADLINE);
	doubt_if(a, may_have_gone_on(f), NOD_DOUBT_END);
	for (size_t i = 0; i < f->network_count; i++)
		doubt_network(a, i);
	doubt_short(a);
	doubt_room(a);
	doubt_if(a, f->clock_steps > f->restarts, NOD_DOUBT_CLOCK);
	doubt_if(a, f->lagging && f->lag.ns, NOD_DOUBT_LAGGING);
	doubt_if(a, f->defects, NOD_DOUBT_DEFECTS);
	doubt_if(a, f->gaps, NOD_DOUBT_GAPS);
}
