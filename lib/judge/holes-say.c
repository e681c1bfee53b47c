/* SPDX-License-Identifier: MIT */
/* What is said of stretches in which nobody seems to have listened. */
#include "holes.h"

const char *nod_hole_text(struct nod_analysis *a, const struct nod_hole_finding *hole, bool returns,
			  double fade, double boot)
{
	const char *who = hole->network != NOD_NONE ? a->f->networks[hole->network].name
			  : a->f->network_count > 1 ? "any network"
						    : a->f->networks[0].name;

	return nod_arena_printf(
		a->arena,
		"Not known: from %s to %s (%s) nothing was heard of %s. The traffic %s%s%s, as if %s: not "
		"taken for sleep.",
		nod_analysis_when(a, hole->from), nod_analysis_when(a, hole->to),
		nod_analysis_length(a, nod_time_since(hole->to, hole->from)), who,
		fade < 0 ? "breaks off in the middle of its rhythm" : "ends",
		hole->torn ? " at a line that cannot be read" : "",
		!returns   ? " and does not come back"
		: boot < 0 ? " and is back in the middle of it"
			   : "",
		nod_analysis_may_be_bench(a)
			? "a single module had been switched off, or nobody had listened"
			: "nobody had listened (power, adapter, plug)");
}
