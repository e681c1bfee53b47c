/* SPDX-License-Identifier: MIT */
/* What is said of a mark that was made at another time than the hand was there. */
#include "analysis.h"
#include "journal.h"

/* Nothing is said of less: that is as it should be. Chosen. */
#define WORTH_SAYING_NS (5 * NOD_NS_PER_S)

/* How often another fuse is entered than was pulled, and how often the map has a fuse wrong.
 * Chosen: nobody has counted; the neighbour in a box is taken more easily than a line of a
 * wiring diagram is copied wrong. */
#define ENTRY_WRONG 0.04
#define MAP_WRONG 0.01
/* Each other isolation of one of the two, in which map and mark agreed, leaves so much of the
 * doubt about the map. Chosen: it would take a second mistake that undoes the first. */
#define AGREED 0.04
/* The same mark for the same traffic again is no second slip, but the first one's belief, or
 * the map. Chosen. */
#define SAME_SLIP 0.5

/* More is not said of what was chosen. */
#define ODDS_MAX 1000

static bool is_same_part(const struct nod_vehicle *vehicle, const char *a, const char *b)
{
	int fuse[2] = {NOD_NONE, NOD_NONE}, module[2] = {NOD_NONE, NOD_NONE};

	return nod_vehicle_resolve(vehicle, a, &fuse[0], &module[0]) &&
	       nod_vehicle_resolve(vehicle, b, &fuse[1], &module[1]) && fuse[0] == fuse[1] &&
	       module[0] == module[1];
}

/* How much likelier it is that the mark is wrong than that the map is. */
static double odds_for_map(const struct nod_findings *f, const struct nod_mark_finding *mark)
{
	double odds = ENTRY_WRONG / MAP_WRONG;

	for (size_t i = 0; i < f->mark_count; i++) {
		const struct nod_mark_finding *m = &f->marks[i];
		if (m == mark || m->kind != NOD_MARK_ISOLATED || !m->dated_by || m->inferred)
			continue;
		bool entered = is_same_part(f->vehicle, m->subject, mark->subject);
		if (m->meant && entered && is_same_part(f->vehicle, m->meant, mark->meant))
			odds *= SAME_SLIP;
		else if (!m->meant &&
			 (entered || is_same_part(f->vehicle, m->subject, mark->meant)))
			odds /= AGREED;
	}
	return odds;
}

/* "4 to 1 for the map" */
static const char *odds_text(const struct nod_analysis *a, const struct nod_mark_finding *mark)
{
	double odds = odds_for_map(a->f, mark);

	if (odds > ODDS_MAX)
		odds = ODDS_MAX;
	if (odds >= 1.5)
		return nod_arena_printf(a->arena, "%.0f to 1 for the map", odds);
	if (odds <= 1 / 1.5)
		return nod_arena_printf(a->arena, "%.0f to 1 for the mark", 1 / odds);
	return "and neither is likelier";
}

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
			"messages of %s stopped at once: map and mark disagree, %s.",
			isolation->text, mark->subject, mark->dated_by, mark->meant,
			odds_text(a, mark));
	nod_duration late = nod_time_since(mark->entered, mark->time);
	if (!mark->dated_by || late.ns < WORTH_SAYING_NS)
		return;
	isolation->text = nod_arena_printf(
		a->arena,
		"%s The mark came %s later; by the traffic (%u message%s stopped at once) "
		"it was then.",
		isolation->text, nod_analysis_length(a, late), mark->dated_by,
		mark->dated_by == 1 ? "" : "s");
}
