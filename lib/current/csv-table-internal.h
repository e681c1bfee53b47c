/* SPDX-License-Identifier: MIT */
/* Shared by the files that find out what a table looks like. */
#ifndef NOD_CSV_TABLE_INTERNAL_H
#define NOD_CSV_TABLE_INTERNAL_H

#include "csv-table.h"

enum nod_cell { NOD_CELL_EMPTY, NOD_CELL_NUMBER, NOD_CELL_WALL, NOD_CELL_OTHER };

/* What a cell holds; the number or the time in *q or *wall. */
enum nod_cell nod_csv_classify(const char *text, char separator, struct nod_quantity *q,
			       struct nod_wall_time *wall);

/* Reads all rows and notes what is in each column. 0 or -EIO. */
int nod_csv_survey_rows(struct nod_csv_table *table, FILE *in);

#endif
