/* SPDX-License-Identifier: MIT */
/* A time of a recording as a person reads it: the clock on the wall, and how
 * long after the lock: "14:03:12 (5 min 04 s after lock)". */
#ifndef NOD_MOMENT_TEXT_H
#define NOD_MOMENT_TEXT_H

#include <stdio.h>

#include "findings.h"

#define NOD_MOMENT_TEXT 120

/* What its times count from: "lock", or "start" where nothing said when the car was locked. */
const char *nod_moment_zero(const struct nod_findings *findings);

/* In a zone (NULL: the machine's). With its date when that is not the lock's; without
 * the clock on the wall where the recording's clock does not count from 1970, or
 * was set meanwhile; "not known". Returns buf. */
char *nod_moment_print(char buf[NOD_MOMENT_TEXT], const struct nod_findings *findings,
		       nod_time time, const char *zone);

/* For a table: "14:03:12  +353.768", the clock and the seconds since the lock (or start);
 * "Tue 14:03:12 +86400.1" where the recording is in more than one day; "-": not known.
 * All times of a recording are as wide as nod_moment_cell_width() says. Returns buf. */
char *nod_moment_print_cell(char buf[NOD_MOMENT_TEXT], const struct nod_findings *findings,
			    nod_time time, const char *zone);
int nod_moment_cell_width(const struct nod_findings *findings, const char *zone);
/* The heading of such a column. */
const char *nod_moment_cell_heading(const struct nod_findings *findings);

/* A sentence of the findings, in which times stand as "lock+304.573 s" (the one form
 * that depends on no zone; "start+..." where nothing said when the car was locked), with each of
 * them written as above, the end of "from ... to ..." by its clock alone. The text is the
 * caller's to free; NULL: out of memory. */
char *nod_moment_tell(const struct nod_findings *findings, const char *sentence, const char *zone);
/* ... and printed (nod_paragraph_print()); false: out of memory. */
bool nod_moment_print_paragraph(FILE *out, const char *lead, const struct nod_findings *findings,
				const char *sentence, const char *zone);
/* The same for a screen that is looked at now: the clock alone, where there is one. */
char *nod_moment_tell_clock(const struct nod_findings *findings, const char *sentence,
			    const char *zone);

#endif
