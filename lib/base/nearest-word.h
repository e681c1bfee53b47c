/* SPDX-License-Identifier: MIT */
/* "Did you mean ...?": the known word that is spelled most like a given one. */
#ifndef NOD_NEAREST_WORD_H
#define NOD_NEAREST_WORD_H

#include <stddef.h>

/* Longer words are not compared. */
#define NOD_NEAREST_LENGTH_MAX 80

/* Insertions, deletions and replacements of one byte that lead from a to b,
 * letters without case; SIZE_MAX when one is too long to be compared. */
size_t nod_edit_distance(const char *a, const char *b);

/* The best so far; start with {word, NULL, 0}. */
struct nod_nearest {
	const char *word;
	const char *best; /* NULL: nothing near enough yet */
	size_t distance;
};

/* Offers a known word. It is near enough when at most one byte in three of
 * the longer word differs (chosen: finds slips of the hand and plurals, and
 * does not propose words that merely have the same length). */
void nod_nearest_offer(struct nod_nearest *nearest, const char *known);

#endif
