/* SPDX-License-Identifier: MIT */
/* What the files of the CSV import share; included by them and by no one else. */
#ifndef NOD_CURRENT_CSV_PRIVATE_H
#define NOD_CURRENT_CSV_PRIVATE_H

#include "current-csv.h"

#define NOD_CSV_COLUMN_TEXT 96

struct nod_csv_work {
	struct nod_csv_plan *plan;
	const struct nod_csv_table *table;
	const struct nod_csv_options *options;
	struct nod_error *err;
};

/* "column 2 `Current (mA)`". Returns buf. */
const char *nod_csv_column_text(char buf[NOD_CSV_COLUMN_TEXT], const struct nod_csv_table *table,
				unsigned column);

/* Fills plan->understood. */
void nod_csv_say(struct nod_csv_plan *plan, const struct nod_csv_options *options);

bool nod_csv_is_numeric(const struct nod_csv_column *c);
bool nod_csv_is_wall(const struct nod_csv_column *c);

/* The heading speaks of a time. */
bool nod_csv_names_time(const char *name);

/* The unit of a column: from its own row or column of units, else its heading. *out is "" when
 * it has none. */
enum nod_unit nod_csv_column_unit(const struct nod_csv_column *c, char out[16]);

/* By number or heading. Returns an index or -EINVAL. */
int nod_csv_column_named(const struct nod_csv_work *w, const char *wanted, const char *option);

/* Asks which column holds it, with the columns there are. Returns -EINVAL. */
int nod_csv_refuse_columns(const struct nod_csv_work *w, const char *what, const char *option);

/* Settles which columns hold the time, and how it counts. 0 or -EINVAL after refusing. */
int nod_csv_find_time(struct nod_csv_work *w);

#endif
