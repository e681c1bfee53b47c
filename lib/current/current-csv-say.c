/* SPDX-License-Identifier: MIT */
/* What was understood of a logger's table, in sentences. */
#include <inttypes.h>
#include <stdlib.h>

#include "current-csv-private.h"
#include "wall-time.h"

const char *nod_csv_column_text(char buf[NOD_CSV_COLUMN_TEXT], const struct nod_csv_table *t,
				unsigned i)
{
	if (*t->column[i].name)
		snprintf(buf, NOD_CSV_COLUMN_TEXT, "column %u `%s`", i + 1, t->column[i].name);
	else
		snprintf(buf, NOD_CSV_COLUMN_TEXT, "column %u", i + 1);
	return buf;
}

static void say_shape(const struct nod_csv_plan *p, char *out, size_t size)
{
	const struct nod_csv_table *t = &p->table;
	char header[48] = "no headings";

	if (t->header_line)
		snprintf(header, sizeof(header), "headings in line %" PRIu64, t->header_line);
	snprintf(out, size,
		 "table: %u column%s, separator %s, decimal %s, %s, data from line %" PRIu64
		 " (%" PRIu64 " rows)",
		 t->columns, t->columns == 1 ? "" : "s", nod_csv_separator_name(t->separator),
		 p->decimal == NOD_DECIMAL_COMMA ? "comma" : "point", header, t->first_line,
		 t->rows);
}

static void say_value(const struct nod_csv_plan *p, const struct nod_csv_options *o, char *out,
		      size_t size)
{
	char name[NOD_CSV_COLUMN_TEXT], clamp[48] = "";
	bool units_in = p->table.column[p->value_column].units_in && !o->unit;

	if (p->value_unit == NOD_UNIT_VOLT)
		snprintf(clamp, sizeof(clamp), ", of a clamp with %.6g mV/A",
			 (double)o->clamp_uohm / 1000);
	snprintf(out, size, "current: %s, in %s%s%s",
		 nod_csv_column_text(name, &p->table, p->value_column),
		 units_in        ? "the unit of each row"
		 : *p->unit_text ? p->unit_text
				 : "the unit written with each value",
		 clamp, o->invert ? ", sign turned round" : "");
}

static void zone_text(char buf[32], const struct nod_csv_plan *p, const struct nod_csv_options *o)
{
	int minutes;

	if (p->table.column[p->time_column].zones || !o->zone)
		snprintf(buf, 32, "zone as written");
	else if (nod_zone_parse(&minutes, o->zone))
		snprintf(buf, 32, "%.31s", o->zone);
	else
		snprintf(buf, 32, "UTC%c%02d:%02d", minutes < 0 ? '-' : '+',
			 abs(minutes) / 60 % 100, abs(minutes) % 60);
}

static const char *order_text(const struct nod_csv_plan *p, const struct nod_csv_options *o)
{
	const struct nod_csv_column *c = &p->table.column[p->date_column];

	if (c->day_first || (c->order_open && !c->month_first && o->order == NOD_DATE_DMY))
		return ", day first";
	return c->month_first || c->order_open ? ", month first" : "";
}

static void say_time(const struct nod_csv_plan *p, const struct nod_csv_options *o, char *out,
		     size_t size)
{
	char name[NOD_CSV_COLUMN_TEXT], date[96] = "", zone[32], start[NOD_TIME_TEXT] = "",
					step[NOD_TIME_TEXT];

	nod_csv_column_text(name, &p->table, p->time_column);
	zone_text(zone, p, o);
	if (nod_time_is_set(o->start))
		nod_wall_print(start, o->start);
	if (p->date_column != p->time_column)
		nod_csv_column_text(date, &p->table, p->date_column);
	switch (p->time) {
	case NOD_CSV_WALL:
		snprintf(out, size, "time: %s%s%s, date and time of day%s, %s", date,
			 *date ? " and " : "", name, order_text(p, o), zone);
		break;
	case NOD_CSV_OF_DAY:
		snprintf(out, size, "time: %s, time of day from %s on, %s", name, o->date, zone);
		break;
	case NOD_CSV_ELAPSED:
		snprintf(out, size, "time: %s, counted from %s", name, start);
		break;
	case NOD_CSV_EPOCH:
		snprintf(out, size, "time: %s, %s since 1970 UTC", name,
			 p->time_ns == NOD_NS_PER_S ? "seconds" : "milliseconds");
		break;
	case NOD_CSV_RELATIVE:
		snprintf(out, size, "time: %s, in units of %s, counted from %s", name,
			 nod_duration_print(step, (nod_duration){p->time_ns}), start);
		break;
	case NOD_CSV_COUNTED:
		snprintf(out, size, "time: none in the file, one sample every %s from %s",
			 nod_duration_print(step, o->interval), start);
		break;
	}
}

void nod_csv_say(struct nod_csv_plan *p, const struct nod_csv_options *o)
{
	size_t size = sizeof(p->understood[0]);

	say_shape(p, p->understood[0], size);
	say_value(p, o, p->understood[1], size);
	say_time(p, o, p->understood[2], size);
	if (o->offset.ns) {
		char text[NOD_TIME_TEXT];
		snprintf(p->understood[3], size, "clock: %s added to every time",
			 nod_duration_print(text, o->offset));
	}
}
