/* SPDX-License-Identifier: MIT */
/* The verdict: how the findings of one analysis come together. */
#include "analysis.h"
#include "nm-search.h"
#include "unreadable.h"

#include <stdlib.h>

/* True when nothing was heard but a tester and the answers to it: then nothing
 * of the car itself was recorded. */
bool nod_findings_only_a_tester(const struct nod_findings *f)
{
	for (size_t i = 0; i < f->ident_count; i++)
		if (f->senders[f->idents[i].sender].kind != NOD_SENDER_TESTER)
			return false;
	return f->ident_count > 0;
}

bool nod_findings_rather_a_person(const struct nod_findings *f)
{
	return f->verdict == NOD_VERDICT_WOKEN && f->suspect_count &&
	       f->suspects[0].kind == NOD_SUSPECT_NOTHING && f->suspects[0].probability >= 0.5;
}

/* What the networks say together: the worst finding there is; sleep only when
 * every network that should be there was heard to sleep. */
static enum nod_verdict join(const struct nod_analysis *a)
{
	const struct nod_findings *f = a->f;
	bool seen[NOD_VERDICTS] = {false};

	for (size_t i = 0; i < f->network_count; i++)
		if (f->networks[i].goes_on_as == NOD_NONE)
			seen[f->networks[i].verdict] = true;
	if (nod_findings_only_a_tester(f))
		return NOD_VERDICT_CANNOT_TELL;
	if (seen[NOD_VERDICT_KEPT_AWAKE])
		return NOD_VERDICT_KEPT_AWAKE;
	if (seen[NOD_VERDICT_WOKEN])
		return NOD_VERDICT_WOKEN;
	if (seen[NOD_VERDICT_SLEEPS] && !seen[NOD_VERDICT_CANNOT_TELL] &&
	    nod_analysis_draws_too_much(a))
		return NOD_VERDICT_DRAWS;
	if (seen[NOD_VERDICT_LATE] && !seen[NOD_VERDICT_CANNOT_TELL])
		return NOD_VERDICT_LATE;
	if (seen[NOD_VERDICT_SLEEPS] && !seen[NOD_VERDICT_CANNOT_TELL])
		return NOD_VERDICT_SLEEPS;
	return NOD_VERDICT_CANNOT_TELL;
}

/* The one that the sentence names: more likely than everything else. Before there is
 * anything wrong there is no culprit, but for a tester, which is in the way. */
static int name_culprit(const struct nod_findings *f)
{
	bool trouble = f->verdict == NOD_VERDICT_KEPT_AWAKE || f->verdict == NOD_VERDICT_WOKEN;
	bool named = f->suspect_count && f->suspects[0].kind == NOD_SUSPECT_SENDER &&
		     f->suspects[0].probability >= 0.5 &&
		     (trouble || f->suspects[0].role == NOD_ROLE_TESTER);
	return named ? 0 : NOD_NONE;
}

/* A tester's pauses are no sleep, and its requests wake nobody that is known of. */
static void say_only_a_tester(struct nod_analysis *a)
{
	for (size_t i = 0; i < a->f->network_count; i++) {
		struct nod_network_finding *n = &a->f->networks[i];
		if (!n->span_count)
			continue;
		n->verdict = NOD_VERDICT_CANNOT_TELL;
		n->reason = nod_arena_printf(
			a->arena,
			"%s: nothing but a tester and the answers to it was heard, "
			"so nothing is known of its sleep.",
			n->name);
	}
}

static int reach_verdict(struct nod_analysis *a)
{
	if (nod_findings_only_a_tester(a->f))
		say_only_a_tester(a);
	a->f->verdict = join(a);
	a->f->culprit = name_culprit(a->f);
	return 0;
}

/* The pauses of a tester are looked at neither as silences nor as holes. */
static int forget_silences(struct nod_findings *f)
{
	for (size_t n = 0; n < f->network_count; n++)
		for (size_t i = 0; i < f->networks[n].span_count; i++) {
			struct nod_span_finding *s = &f->networks[n].spans[i];
			s->slept_before = s->slept_after = s->silence_known = false;
		}
	return 0;
}

static int conclude_searches(const struct nod_engine *engine)
{
	int status = 0;

	for (size_t i = 0; !status && i < engine->track_room; i++) {
		struct nod_track *track = nod_engine_track(engine, i);
		status = track ? nod_nm_search_conclude(track) : 0;
	}
	return status;
}

static int run(struct nod_analysis *a)
{
	int status = conclude_searches(a->engine);

	if (!status)
		status = nod_analysis_copy(a);
	if (!status)
		status = nod_findings_only_a_tester(a->f) ? forget_silences(a->f)
							  : nod_analysis_find_holes(a);
	if (!status)
		nod_analysis_find_renamed(a);
	a->parked = !status && nod_analysis_is_parked(a);
	if (!status)
		status = nod_analysis_find_wakes(a);
	if (!status)
		status = nod_analysis_judge_isolations(a);
	if (!status)
		status = nod_analysis_ask(a);
	if (!status)
		status = nod_analysis_read_current(a);
	if (!status)
		nod_analysis_judge_networks(a);
	if (!status)
		status = nod_analysis_read_fuses(a);
	if (!status)
		status = nod_analysis_compare_with_good(a);
	if (!status)
		status = nod_analysis_weigh_suspects(a);
	if (!status)
		status = reach_verdict(a);
	if (!status)
		status = nod_analysis_rank_tests(a);
	if (!status)
		status = nod_analysis_state(a);
	if (!status)
		nod_analysis_say_unreadable(a);
	return status;
}

/* Findings and the memory they live in; the findings are its first member. */
struct kept_findings {
	struct nod_findings findings;
	struct nod_arena arena;
};

struct nod_findings *nod_engine_findings(struct nod_engine *engine)
{
	struct kept_findings *kept = calloc(1, sizeof(*kept));

	if (!kept)
		return NULL;
	struct nod_findings *f = &kept->findings;
	struct nod_analysis a = {.engine = engine, .f = f, .arena = &kept->arena};
	if (nod_time_is_set(engine->ended))
		nod_engine_advance(engine, engine->ended);
	nod_engine_doubt_deaf(engine);
	f->record_longer = NOD_DURATION_NONE;
	f->culprit = NOD_NONE;
	f->sentence = f->next = "";
	bool starved = engine->past.starved; /* while time went on, and not told yet */
	engine->past.starved = false;
	if (starved || run(&a) || kept->arena.failed) {
		nod_findings_free(f);
		return NULL;
	}
	return f;
}

void nod_findings_free(struct nod_findings *f)
{
	struct kept_findings *kept = (struct kept_findings *)f;

	if (!kept)
		return;
	nod_arena_free(&kept->arena);
	free(kept);
}
