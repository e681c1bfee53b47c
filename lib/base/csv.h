/* SPDX-License-Identifier: MIT */
/* One line of a table of text ("CSV") as fields. */
#ifndef NOD_CSV_H
#define NOD_CSV_H

#include <stddef.h>

#define NOD_CSV_FIELDS 64

/* Separators: any character; ' ' stands for runs of blanks and tabs, 0 for
 * none (the line is one field). */
struct nod_csv_field {
	const char *text; /* terminated, trimmed, quotes undone */
	unsigned column;  /* where it begins in the line, in bytes from 1 */
};

struct nod_csv_row {
	unsigned count;
	struct nod_csv_field field[NOD_CSV_FIELDS];
};

/* Splits the terminated `line`, which is changed and must outlive the row. A
 * field may stand in double quotes, inside which two of them are one. Returns
 * 0, or -E2BIG when there are more fields (the row then holds the first). */
int nod_csv_split(struct nod_csv_row *row, char *line, char separator);

#endif
