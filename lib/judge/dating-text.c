/* SPDX-License-Identifier: MIT */
/* What is said of an entry that was made at another time than the hand was there. */
#include "analysis.h"

/* Nothing is said of less: that is as it should be. Chosen. */
#define WORTH_SAYING_NS (5 * NOD_NS_PER_S)

void nod_analysis_tell_dating(const struct nod_analysis *a, const struct nod_mark_finding *mark,
			      struct nod_isolation_finding *isolation)
{
	if (mark->inferred) {
		isolation->text = nod_arena_printf(
			a->arena,
			"%s Nobody entered it: %u messages stopped at once, while others went "
			"on.",
			isolation->text, mark->dated_by);
		return;
	}
	if (mark->meant)
		isolation->text = nod_arena_printf(
			a->arena,
			"%s Entered was %s, but what hangs on that by the map went on, and %u "
			"messages of %s stopped at once: either the entry or the map is wrong.",
			isolation->text, mark->subject, mark->dated_by, mark->meant);
	nod_duration late = nod_time_since(mark->entered, mark->time);
	if (!mark->dated_by || late.ns < WORTH_SAYING_NS)
		return;
	isolation->text = nod_arena_printf(
		a->arena,
		"%s The entry came %s later; by the traffic (%u message%s stopped at once) "
		"it was then.",
		isolation->text, nod_analysis_length(a, late), mark->dated_by,
		mark->dated_by == 1 ? "" : "s");
}
