/* SPDX-License-Identifier: MIT */
#include "unreadable.h"

void nod_analysis_say_unreadable(struct nod_analysis *a)
{
	struct nod_findings *f = a->f;

	if (f->defects <= f->frames)
		return;
	f->sentence = nod_arena_printf(
		a->arena,
		"Most of the recording could not be read (%llu lines, against %llu "
		"frame%s that could). Of these: %s",
		(unsigned long long)f->defects, (unsigned long long)f->frames,
		f->frames == 1 ? "" : "s", f->sentence);
	f->next =
		"See first why it cannot be read: `nodoff frames --strict` stops at the first such "
		"line. What another logger wrote may need a converter: asc2log, or python3 -m "
		"can.logconvert.";
}
