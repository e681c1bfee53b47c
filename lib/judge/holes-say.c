/* SPDX-License-Identifier: MIT */
/* What is said of stretches in which nobody seems to have listened. */
#include "holes.h"

/* So many are told one by one. Chosen. */
#define HOLES_TOLD 3

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
			? "a single unit had been switched off, or nobody had listened"
			: "nobody had listened (power, adapter, plug)");
}

void nod_analysis_say_holes(struct nod_analysis *a,
			    void (*add)(struct nod_analysis *a, const char *text))
{
	const struct nod_findings *f = a->f;
	size_t told = f->hole_count > HOLES_TOLD ? HOLES_TOLD - 1 : f->hole_count;
	nod_duration more = {0};

	for (size_t i = 0; i < told; i++)
		add(a, f->holes[i].text);
	for (size_t i = told; i < f->hole_count; i++)
		more.ns = nod_ns_add(more.ns, nod_time_since(f->holes[i].to, f->holes[i].from).ns);
	if (told < f->hole_count)
		add(a, nod_arena_printf(
			       a->arena,
			       "Of %zu more silences (%s in all) it is not known either whether "
			       "anybody listened.",
			       f->hole_count - told, nod_analysis_length(a, more)));
}
