/* SPDX-License-Identifier: MIT */
/* The answer on one screen of 80x24; answer.h chooses. */
#ifndef NOD_ANSWER_SHORT_H
#define NOD_ANSWER_SHORT_H

#include "answer.h"

int nod_answer_print_short(FILE *out, const struct nod_findings *f, struct nod_answer_style style);

/* The verdict in capitals, and the sentence. False: out of memory. */
bool nod_answer_print_verdict(FILE *out, const struct nod_findings *f,
			      struct nod_answer_style style);

/* What a suspect is said to do: "keeps awake". */
const char *nod_answer_role(enum nod_role role);

#endif
