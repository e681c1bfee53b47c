/* SPDX-License-Identifier: MIT */
/* The answer of an analysis, as text for a person and as JSON. The same
 * findings give the same bytes. */
#ifndef NOD_ANSWER_H
#define NOD_ANSWER_H

#include <stdbool.h>
#include <stdio.h>

#include "findings.h"

struct nod_answer_style {
	bool full;        /* all that was found; else the answer on one screen, 20 lines */
	bool colour;      /* ANSI colours, never the only signal */
	bool all_idents;  /* list every message too; full */
	const char *zone; /* for the clock on the wall, as in when.h; NULL: the machine's */
};

/* Writes the answer: verdict, why, what next with its cautions, what limits it, the
 * networks; with .full all reasons and the tables; at most 80 columns. Returns 0 or a
 * negative errno. */
int nod_answer_print(FILE *out, const struct nod_findings *f, struct nod_answer_style style);

/* Writes the same content as one JSON object (described in answer-json.c) and a
 * newline. Returns 0, -ENOMEM or -EIO. */
int nod_answer_print_json(FILE *out, const struct nod_findings *f);

#endif
