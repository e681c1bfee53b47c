/* SPDX-License-Identifier: MIT */
/* The words of the answer, put together in statement.c. Internal. */
#ifndef NOD_STATEMENT_H
#define NOD_STATEMENT_H

#include "analysis.h"

/* Suspects below this are not spoken of, but stand in the table. */
#define NOD_SPOKEN_OF_MIN 0.05

#define NOD_STATEMENT_LINES 24

/* Adds a line; what may be found on two ways, with a module's name before it and without,
 * is said once. */
void nod_statement_add(const char **lines, size_t *count, const char *text);

/* statement-sentence.c, statement-facts.c, statement-doubts.c */
const char *nod_statement_sentence(struct nod_analysis *a);
void nod_statement_facts(struct nod_analysis *a);
void nod_statement_doubts(struct nod_analysis *a);

#endif
