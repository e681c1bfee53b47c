/* SPDX-License-Identifier: MIT */
/* One row of a table in text, for a terminal of 80 columns. */
#ifndef NOD_ROW_H
#define NOD_ROW_H

#include <stddef.h>
#include <stdio.h>

/* A cell: its text and its width in columns; negative: set to the right. */
struct nod_cell {
	int width;
	const char *text;
};

/* Writes the cells behind two blanks and parted by one, and a newline. On a terminal, what is
 * too long for its cell is cut at a character and ends in ".."; elsewhere it is whole and
 * moves what follows, unless COLUMNS is in the environment. No blanks remain at the end. Columns are counted as UTF-8 characters. */
void nod_row_print(FILE *out, const struct nod_cell *cells, size_t count);

#define NOD_ROW(out, ...)                                            \
	nod_row_print((out), (const struct nod_cell[]){__VA_ARGS__}, \
		      sizeof((const struct nod_cell[]){__VA_ARGS__}) / sizeof(struct nod_cell))

#endif
