/* SPDX-License-Identifier: MIT */
#include "unreadable.h"

/* The limits: network/engine-internal.h. */
static void say_misdated(struct nod_analysis *a)
{
	struct nod_findings *f = a->f;

	f->sentence = nod_arena_printf(
		a->arena,
		"%llu frames have times before the year 1843 or after 2096, which no clock of a "
		"recorder should give: they are not taken (%llu other%s). Of these: %s",
		(unsigned long long)f->misdated, (unsigned long long)f->frames,
		f->frames == 1 ? " is" : "s are", f->sentence);
	f->next = "Set the recorder's clock and record again, or shift the times of the file: "
		  "nodoff needs their distances, not the date.";
}

void nod_analysis_say_unreadable(struct nod_analysis *a)
{
	struct nod_findings *f = a->f;

	if (f->defects <= f->frames)
		return;
	if (f->misdated > f->frames) {
		say_misdated(a);
		return;
	}
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
