/* SPDX-License-Identifier: MIT */
/* The timeline of a session in text, for a terminal of any width. */
#ifndef NOD_TIMELINE_TEXT_H
#define NOD_TIMELINE_TEXT_H

#include <stdbool.h>
#include <stdio.h>

#include "findings.h"
#include "timeline.h"

/* Narrower, it is drawn at this width all the same; wider than the most, at that. */
#define NOD_TIMELINE_COLUMNS_LEAST 40
#define NOD_TIMELINE_COLUMNS_MOST 1000

struct nod_timeline_style {
	int columns; /* of the terminal */
	bool ascii;  /* no character beyond ASCII */
};

/* Whatever happened in the time of a column shows in it: awake before asleep, the
 * highest and lowest current, the largest number of frames. Returns 0 or a
 * negative errno. */
int nod_timeline_print(FILE *out, const struct nod_findings *f, const struct nod_timeline *timeline,
		       struct nod_timeline_style style);

#endif
