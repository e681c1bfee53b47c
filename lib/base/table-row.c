/* SPDX-License-Identifier: MIT */
#include "table-row.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "paragraph.h"

/* Bytes of the first `columns` characters. */
static int bytes_of(const char *text, int columns)
{
	int n = 0;

	while (text[n]) {
		if (((unsigned char)text[n] & 0xC0) != 0x80 && columns-- == 0)
			break;
		n++;
	}
	return n;
}

/* Blanks are owed until something follows them. */
static void put_cell(FILE *out, const struct nod_cell *cell, bool whole, int *owed)
{
	int columns = nod_text_columns(cell->text), width = abs(cell->width);

	width = whole && columns > width ? columns : width;
	int shown = columns > width ? width - 2 : columns;
	int blanks = columns > width ? 0 : width - columns;

	if (!columns) {
		*owed += width;
		return;
	}
	fprintf(out, "%*s", *owed + (cell->width < 0 ? blanks : 0), "");
	nod_text_print(out, cell->text, (size_t)bytes_of(cell->text, shown));
	fputs(columns > width ? ".." : "", out);
	*owed = cell->width < 0 ? 0 : blanks;
}

void nod_row_print(FILE *out, const struct nod_cell *cells, size_t count)
{
	int owed = 2;
	bool whole = !getenv("COLUMNS") && (fileno(out) < 0 || !isatty(fileno(out)));

	for (size_t i = 0; i < count; i++) {
		put_cell(out, &cells[i], whole, &owed);
		owed++;
	}
	fputc('\n', out);
}
