/* SPDX-License-Identifier: MIT */
/* What the cells of each column of a table are. */
#include "csv-table-internal.h"

#include <errno.h>
#include <math.h>
#include <string.h>

/* Is the mark of a number surely a decimal one? */
static void note_mark(struct nod_csv_column *c, const char *text)
{
	const char *mark = strpbrk(text, ".,"), *digits = text + strspn(text, "+- ");
	const char *other = mark ? strchr(mark, *mark == ',' ? '.' : ',') : NULL;

	if (!mark)
		return;
	if (other) /* "1,234.5": the last one */
		mark = other;
	bool open = !other && strspn(mark + 1, "0123456789") == 3 && *digits != '0' &&
		    mark - digits <= 3;
	if (*mark == ',')
		open ? c->comma_open++ : c->comma_sure++;
	else
		open ? c->point_open++ : c->point_sure++;
}

static void note_number(struct nod_csv_column *c, const char *text, const struct nod_quantity *q)
{
	double value = (double)q->micro / 1e6;

	note_mark(c, text);
	if (c->cell_unit == NOD_UNIT_NONE)
		c->cell_unit = q->unit;
	c->lowest = c->numbers ? fmin(c->lowest, value) : value;
	c->falls |= c->numbers && value < c->highest; /* as long as it only rises */
	c->highest = c->numbers ? fmax(c->highest, value) : value;
	c->numbers++;
}

static void note_wall(struct nod_csv_column *c, const struct nod_wall_time *wall)
{
	c->walls++;
	c->dates += wall->has_date;
	c->times += wall->has_time;
	c->zones += wall->has_zone;
	if (!wall->has_date)
		return;
	c->day_first |= wall->order == NOD_DATE_DMY;
	c->month_first |= wall->order == NOD_DATE_MDY;
	c->order_open |= wall->order == NOD_DATE_OPEN;
}

/* A column of nothing but a unit belongs to the numbers before it. */
static void note_unit(struct nod_csv_table *table, unsigned index, const char *text)
{
	struct nod_csv_column *c = &table->column[index];
	struct nod_csv_column *before = index ? c - 1 : NULL;
	enum nod_unit unit;
	int exponent, multiplier;

	c->others++;
	if (!before || !before->numbers || before->units_in || *before->unit ||
	    nod_unit_parse(&unit, &exponent, &multiplier, text, strlen(text)))
		return;
	snprintf(before->unit, sizeof(before->unit), "%.15s", text);
	before->units_in = index + 1;
}

static void note_row(struct nod_csv_table *table, const struct nod_csv_row *row)
{
	for (unsigned i = 0; i < row->count; i++) {
		struct nod_csv_column *c = &table->column[i];
		struct nod_quantity q;
		struct nod_wall_time wall;
		const char *text = row->field[i].text;

		c->cells++;
		switch (nod_csv_classify(text, table->separator, &q, &wall)) {
		case NOD_CELL_EMPTY:
			c->empty++;
			break;
		case NOD_CELL_NUMBER:
			note_number(c, text, &q);
			break;
		case NOD_CELL_WALL:
			note_wall(c, &wall);
			break;
		case NOD_CELL_OTHER:
			note_unit(table, i, text);
			break;
		}
	}
}

int nod_csv_survey_rows(struct nod_csv_table *table, FILE *in)
{
	char line[NOD_CSV_LINE];
	struct nod_csv_row row;
	int rc;

	rewind(in);
	for (uint64_t number = 1; (rc = nod_csv_read_line(in, line)) != 0; number++) {
		if (rc == -EIO)
			return rc;
		if (number < table->first_line || (rc > 0 && nod_csv_is_comment(line)))
			continue;
		table->rows++;
		if (rc > 0 && !nod_csv_split(&row, line, table->separator) &&
		    row.count == table->columns)
			note_row(table, &row);
	}
	rewind(in);
	return 0;
}
