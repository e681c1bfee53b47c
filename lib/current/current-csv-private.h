/* What the files of the CSV import share; included by them and by no one else. */
#ifndef NOD_CURRENT_CSV_PRIVATE_H
#define NOD_CURRENT_CSV_PRIVATE_H

#include "current-csv.h"

#define NOD_CSV_COLUMN_TEXT 96

/* "column 2 `Current (mA)`". Returns buf. */
const char *nod_csv_column_text(char buf[NOD_CSV_COLUMN_TEXT], const struct nod_csv_table *table,
				unsigned column);

/* Fills plan->understood. */
void nod_csv_say(struct nod_csv_plan *plan, const struct nod_csv_options *options);

#endif
