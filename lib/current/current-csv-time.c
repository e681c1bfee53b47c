/* SPDX-License-Identifier: MIT */
/* Which columns of a logger's table hold the time, and how it counts. */
#include "current-csv-private.h"

#include <errno.h>
#include <string.h>
#include <strings.h>

/* Numbers that must be UNIX times (2001 to 2100), in seconds and milliseconds. */
#define EPOCH_FROM 1e9
#define EPOCH_TO 4.1e9

/* Nanoseconds in one unit of a column of UNIX times, 0 when it is none. */
static int64_t epoch_unit(const struct nod_csv_column *c)
{
	if (c->lowest >= EPOCH_FROM && c->highest <= EPOCH_TO)
		return NOD_NS_PER_S;
	if (c->lowest >= EPOCH_FROM * 1000 && c->highest <= EPOCH_TO * 1000)
		return NOD_NS_PER_MS;
	return 0;
}

/* Dates in one column, times of day in another; or both in one. */
static int find_wall_columns(struct nod_csv_work *w)
{
	int date = -1, time = -1;

	for (unsigned i = 0; i < w->table->columns; i++) {
		const struct nod_csv_column *c = &w->table->column[i];
		if (!nod_csv_is_wall(c))
			continue;
		if (c->dates && !c->times)
			date = date == -1 ? (int)i : -2;
		else
			time = time == -1 ? (int)i : -2;
	}
	if (date == -2 || time == -2)
		return nod_csv_refuse_columns(w, "time", "--time-column");
	if (time == -1)
		return date == -1 ? 0 : nod_csv_refuse_columns(w, "time of day", "--time-column");
	w->plan->time_column = w->plan->date_column = (unsigned)time;
	if (date >= 0 && !w->table->column[time].dates)
		w->plan->date_column = (unsigned)date;
	return 1;
}

/* The only column of UNIX times, in seconds or milliseconds. -1: none or more. */
static int only_epoch(const struct nod_csv_table *t)
{
	int found = -1;

	for (unsigned i = 0; i < t->columns; i++) {
		const struct nod_csv_column *c = &t->column[i];
		if (nod_csv_is_numeric(c) && epoch_unit(c))
			found = found == -1 ? (int)i : -2;
	}
	return found < 0 ? -1 : found;
}

/* A numeric column that is one of times. -1: none, -EINVAL after refusing. */
static int find_number_time(const struct nod_csv_work *w)
{
	int found = -1, rising = -1, numeric = 0;
	char text[16];

	for (unsigned i = 0; i < w->table->columns; i++) {
		const struct nod_csv_column *c = &w->table->column[i];
		if (!nod_csv_is_numeric(c))
			continue;
		numeric++;
		if (nod_csv_names_time(c->name) ||
		    nod_csv_column_unit(c, text) == NOD_UNIT_SECOND || !strcasecmp(c->name, "t")) {
			if (found >= 0)
				return nod_csv_refuse_columns(w, "time", "--time-column");
			found = (int)i;
		}
		if (!c->falls && c->numbers > 1 && c->highest > c->lowest)
			rising = rising == -1 ? (int)i : -2;
	}
	if (found < 0)
		found = only_epoch(w->table);
	if (found >= 0 || numeric < 2)
		return found;
	if (rising == 0) /* unnamed, first, and the only one that never falls */
		return 0;
	if (w->options->interval.ns)
		return -1;
	return nod_csv_refuse_columns(w, "time", "--time-column, or --interval when there is none");
}

static int refuse_zone(const struct nod_csv_work *w)
{
	return nod_error_set(
		w->err, EINVAL,
		"the times do not say which time zone they are in; say --zone, such as "
		"--zone Europe/Berlin, or +01:00 with summer time included, or UTC");
}

static int check_date_order(const struct nod_csv_work *w, const struct nod_csv_column *c)
{
	if (c->day_first && c->month_first)
		return nod_error_set(w->err, EINVAL,
				     "some dates begin with the day and others with the month");
	if (!c->order_open || w->options->order != NOD_DATE_OPEN)
		return 0;
	if (c->day_first || c->month_first)
		return 0;
	return nod_error_set(w->err, EINVAL,
			     "do the dates begin with the day or with the month? Say "
			     "--date-order dmy or mdy");
}

static int settle_wall(struct nod_csv_work *w)
{
	struct nod_csv_plan *p = w->plan;
	const struct nod_csv_column *date = &w->table->column[p->date_column];
	const struct nod_csv_column *time = &w->table->column[p->time_column];
	struct nod_wall_time wall;
	nod_time day;

	if (date->dates) {
		p->time = NOD_CSV_WALL;
		if (time->zones < time->walls && !w->options->zone)
			return refuse_zone(w);
		return check_date_order(w, date);
	}
	bool dated = w->options->date != NULL, started = nod_time_is_set(w->options->start);
	if (dated == started)
		return nod_error_set(
			w->err, EINVAL,
			"%s holds times without a date: say --date YYYY-MM-DD when they "
			"are times of day, or --start TIME when they count from the "
			"start",
			time->name[0] ? time->name : "the time column");
	p->time = started ? NOD_CSV_ELAPSED : NOD_CSV_OF_DAY;
	if (started)
		return 0;
	if (!w->options->zone && time->zones < time->walls)
		return refuse_zone(w);
	if (nod_wall_parse(&wall, w->options->date, false) || wall.has_time ||
	    nod_wall_to_time(&day, &wall, w->options->order, 0))
		return nod_error_set(w->err, EINVAL, "--date %s is not a day such as 2023-11-14",
				     w->options->date);
	p->day_ns = day.ns;
	return 0;
}

static int64_t unit_ns(const char *text)
{
	enum nod_unit unit;
	int exponent, multiplier;
	int64_t ns = 1;

	if (nod_unit_parse(&unit, &exponent, &multiplier, text, strlen(text)) ||
	    unit != NOD_UNIT_SECOND)
		return 0;
	for (int i = 0; i < exponent + 3; i++) /* to nanoseconds */
		ns *= 10;
	return ns * multiplier;
}

static int settle_number(struct nod_csv_work *w)
{
	struct nod_csv_plan *p = w->plan;
	const struct nod_csv_column *c = &w->table->column[p->time_column];
	char unit[16];

	nod_csv_column_unit(c, unit);
	if (w->options->time_unit)
		snprintf(unit, sizeof(unit), "%.15s", w->options->time_unit);
	p->time_ns = epoch_unit(c);
	if (p->time_ns) {
		p->time = NOD_CSV_EPOCH;
		return 0;
	}
	p->time = NOD_CSV_RELATIVE;
	p->time_ns = *unit ? unit_ns(unit) : 0;
	if (!p->time_ns)
		return nod_error_set(
			w->err, EINVAL,
			"the times are numbers without a unit of time; say --time-unit s "
			"(or ms, min, h)");
	if (!nod_time_is_set(w->options->start))
		return nod_error_set(
			w->err, EINVAL,
			"the times count from the start of the logger; say when that was: "
			"--start TIME");
	return 0;
}

int nod_csv_find_time(struct nod_csv_work *w)
{
	struct nod_csv_plan *p = w->plan;
	int found;

	p->time = NOD_CSV_COUNTED;
	if (w->options->time_column) {
		found = nod_csv_column_named(w, w->options->time_column, "--time-column");
		if (found < 0)
			return found;
		p->time_column = p->date_column = (unsigned)found;
		if (nod_csv_is_wall(&w->table->column[found]))
			return settle_wall(w);
		return settle_number(w);
	}
	found = find_wall_columns(w);
	if (found)
		return found < 0 ? found : settle_wall(w);
	found = find_number_time(w);
	if (found < -1)
		return found;
	if (found >= 0) {
		p->time_column = p->date_column = (unsigned)found;
		return settle_number(w);
	}
	if (w->options->interval.ns <= 0 || !nod_time_is_set(w->options->start))
		return nod_error_set(
			w->err, EINVAL,
			"there is no column of times; say --interval (such as 1 s) and "
			"--start TIME");
	return 0;
}
