/* SPDX-License-Identifier: MIT */
/* The shape of a table of text that somebody's logger wrote: where the data
 * begin, what separates the columns, what they are called, and what kind of
 * cells they hold. Nothing is decided here that the text leaves open. */
#ifndef NOD_CSV_TABLE_H
#define NOD_CSV_TABLE_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

#include "csv.h"
#include "error.h"
#include "quantity.h"
#include "wall-time.h"

/* Longest line taken. Chosen: 64 columns of wide numbers. */
#define NOD_CSV_LINE 4096

#define NOD_CSV_NAME 64 /* longer headings are cut */

struct nod_csv_column {
	char name[NOD_CSV_NAME]; /* heading, "" when there is none */
	char unit[16];           /* from a row of units, or a column of nothing but the unit */
	unsigned units_in;       /* each row has its own in this column, from 1; 0: none does */
	uint64_t cells, empty, numbers, walls, others;
	/* Numbers whose comma or point must be a decimal mark, or may be one or
	 * separate thousands ("1,234"). */
	uint64_t comma_sure, comma_open, point_sure, point_open;
	enum nod_unit cell_unit; /* of the first number that carries one */
	double lowest, highest;  /* of the numbers, a comma taken as a decimal mark */
	bool falls;              /* a number is lower than the one before */
	/* Of dates and times of day: */
	uint64_t dates, times, zones;
	bool day_first, month_first; /* some date cannot be read otherwise */
	bool order_open;             /* some date can be read both ways */
};

struct nod_csv_table {
	char separator; /* see csv.h */
	unsigned columns;
	uint64_t first_line;  /* of data, from 1 */
	uint64_t header_line; /* 0: none */
	uint64_t skipped;     /* lines above header or data that are neither */
	uint64_t rows;        /* of data, defective ones included */
	struct nod_csv_column column[NOD_CSV_FIELDS];
};

/* Reads the whole file (seekable) and rewinds it. separator 0: find it out.
 * decimal: ',' or '.' when known, else 0.
 * Returns 0, -EINVAL with err when the text does not tell (err says which
 * option does), -EIO. `name` is used in messages. */
int nod_csv_survey(struct nod_csv_table *table, FILE *in, const char *name, char separator,
		   char decimal, struct nod_error *err);

/* The next line without its end. Returns 1, 0 at the end, -E2BIG for a line
 * that is too long (the rest of it is skipped), -EIO. A byte order mark is
 * dropped, the Latin-1 signs for micro and degree become UTF-8. */
int nod_csv_read_line(FILE *in, char line[NOD_CSV_LINE]);

/* True for a comment or an empty line. */
bool nod_csv_is_comment(const char *line);

/* "semicolon", "comma", ... */
const char *nod_csv_separator_name(char separator);

#endif
