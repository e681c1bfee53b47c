/* SPDX-License-Identifier: MIT */
/* The timeline of a session as a picture: networks awake or asleep, who spoke
 * when, the current, wake-ups, marks and deadlines on one time axis. */
#ifndef NOD_PICTURE_H
#define NOD_PICTURE_H

#include <stdio.h>

#include "findings.h"
#include "timeline.h"

/* Widths of the two forms, in units of the view box: one for a screen or a
 * sheet of paper, one for a phone. */
#define NOD_PICTURE_WIDE 1000
#define NOD_PICTURE_NARROW 380

/* Writes the fills that every picture of a page shares; once, before them. */
void nod_picture_patterns(FILE *out);

/* Writes one picture; width is one of the two above. Looks are the classes of
 * report-style.c. Returns 0 or -ENOMEM. */
int nod_picture_write(FILE *out, const struct nod_findings *f, const struct nod_timeline *timeline,
		      double width);

/* What each fill and sign means, as HTML. */
void nod_picture_key(FILE *out, const struct nod_findings *f);

#endif
