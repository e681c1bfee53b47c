/* What the columns of a logger's table mean. */
#include "current-csv-private.h"

#include <ctype.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

/* Headings by which loggers name a current or a time, in the languages that
 * were thought of. Common practice, no source. */
static const char *const current_words[] = {"current", "strom", "ampere", "amps", "courant",
					    "corriente", "corrente", "stroom", "amperage"};
static const char *const time_words[] = {"time", "zeit", "stamp", "datum", "date", "uhrzeit",
					 "temps", "heure", "hora", "tempo", "ora", "elapsed",
					 "seconds", "sekunden"};

/* Numbers that must be UNIX times (2001 to 2100), in seconds and milliseconds. */
#define EPOCH_FROM 1e9
#define EPOCH_TO 4.1e9

/* A column is one of numbers when at least this share of its full cells is: a
 * clamp may have shown overload for a long time. Chosen. */
#define NUMBER_SHARE 0.5

struct work {
	struct nod_csv_plan *plan;
	const struct nod_csv_table *table;
	const struct nod_csv_options *options;
	struct nod_error *err;
};

struct nod_csv_options nod_csv_options_none(void)
{
	return (struct nod_csv_options){.order = NOD_DATE_OPEN, .start = NOD_TIME_NONE};
}

static bool has_word(const char *name, const char *const *words, size_t count)
{
	for (size_t i = 0; i < count; i++)
		if (strcasestr(name, words[i]))
			return true;
	return false;
}

#define HAS_WORD(name, words) has_word(name, words, sizeof(words) / sizeof((words)[0]))

static bool is_numeric(const struct nod_csv_column *c)
{
	uint64_t full = c->cells - c->empty;

	return c->numbers && (double)c->numbers >= NUMBER_SHARE * (double)full;
}

static bool is_wall(const struct nod_csv_column *c)
{
	uint64_t full = c->cells - c->empty;

	return c->walls && (double)c->walls >= NUMBER_SHARE * (double)full;
}

/* -- units in headings -------------------------------------------------- */

static bool is_unit(const char *text, size_t length, enum nod_unit *unit)
{
	int exponent, multiplier;

	return length && length < 16 && !nod_unit_parse(unit, &exponent, &multiplier, text, length);
}

/* The unit in "Current (mA)", "I [A]", "I/mA", "current_mA", "Strom in mA",
 * "mA". A single letter at the end ("Channel A") is none unless the heading
 * speaks of a current or a time. */
static bool heading_unit(const char *name, char out[16], enum nod_unit *unit)
{
	const char *open = strpbrk(name, "([");
	size_t length = strlen(name);

	if (open) {
		size_t inside = strcspn(open + 1, ")]");
		if (is_unit(open + 1, inside, unit)) {
			snprintf(out, 16, "%.*s", (int)inside, open + 1);
			return true;
		}
	}
	const char *last = name + length;
	while (last > name && !strchr(" /_,:-", last[-1]))
		last--;
	bool single = last[0] && !last[1], marked = last > name && last[-1] == '/';
	if (single && last > name && !marked && !HAS_WORD(name, current_words) &&
	    !HAS_WORD(name, time_words))
		return false;
	if (!is_unit(last, strlen(last), unit))
		return false;
	snprintf(out, 16, "%s", last);
	return true;
}

/* The unit of a column: from its own row or column of units, else its
 * heading. *out is "" when it has none. */
static enum nod_unit column_unit(const struct nod_csv_column *c, char out[16])
{
	enum nod_unit unit = NOD_UNIT_NONE;

	*out = '\0';
	if (*c->unit && is_unit(c->unit, strlen(c->unit), &unit)) {
		snprintf(out, 16, "%s", c->unit);
		return unit;
	}
	if (heading_unit(c->name, out, &unit))
		return unit;
	return c->cell_unit;
}

/* -- choosing columns --------------------------------------------------- */

/* By number or heading. Returns an index or -EINVAL. */
static int column_named(const struct work *w, const char *wanted, const char *option)
{
	char *end;
	unsigned long number = strtoul(wanted, &end, 10);
	int found = -1;

	if (isdigit((unsigned char)*wanted) && !*end && number >= 1 && number <= w->table->columns)
		return (int)number - 1;
	for (unsigned i = 0; i < w->table->columns; i++)
		if (!strcasecmp(w->table->column[i].name, wanted))
			return (int)i;
	for (unsigned i = 0; i < w->table->columns; i++) {
		if (!strcasestr(w->table->column[i].name, wanted))
			continue;
		if (found >= 0)
			return nod_error_set(w->err, EINVAL, "%s %s fits several columns", option,
					     wanted);
		found = (int)i;
	}
	if (found < 0)
		nod_error_set(w->err, EINVAL, "%s %s: there is no such column (there are %u)",
			      option, wanted, w->table->columns);
	return found < 0 ? -EINVAL : found;
}

static int refuse_columns(const struct work *w, const char *what, const char *option)
{
	char list[360] = "", one[NOD_CSV_COLUMN_TEXT];
	size_t used = 0;

	for (unsigned i = 0; i < w->table->columns && used < sizeof(list) - 100; i++)
		used += (size_t)snprintf(list + used, sizeof(list) - used, "%s%s", i ? ", " : "",
					 nod_csv_column_text(one, w->table, i));
	return nod_error_set(w->err, EINVAL, "which column holds the %s? Say %s; there are %s", what,
			     option, list);
}

static bool is_time_column(const struct work *w, unsigned i)
{
	return w->plan->time != NOD_CSV_COUNTED &&
	       (i == w->plan->time_column || i == w->plan->date_column);
}

/* The only numeric column with `unit` (NONE: with a unit or without).
 * -1: none, -2: several. */
static int only_column(const struct work *w, enum nod_unit unit, bool by_word)
{
	int found = -1;
	char text[16];

	for (unsigned i = 0; i < w->table->columns; i++) {
		const struct nod_csv_column *c = &w->table->column[i];
		if (is_time_column(w, i) || !is_numeric(c))
			continue;
		if (unit != NOD_UNIT_NONE && column_unit(c, text) != unit)
			continue;
		if (by_word && !HAS_WORD(c->name, current_words))
			continue;
		found = found == -1 ? (int)i : -2;
	}
	return found;
}

static int find_value_column(const struct work *w)
{
	int found;

	if (w->options->column)
		return column_named(w, w->options->column, "--column");
	found = only_column(w, w->options->clamp_uohm ? NOD_UNIT_VOLT : NOD_UNIT_AMPERE, false);
	if (found == -1)
		found = only_column(w, NOD_UNIT_NONE, true);
	if (found == -1)
		found = only_column(w, NOD_UNIT_NONE, false);
	return found < 0 ? refuse_columns(w, "current", "--column") : found;
}

/* Nanoseconds in one unit of a column of UNIX times, 0 when it is none. */
static int64_t epoch_unit(const struct nod_csv_column *c)
{
	if (c->lowest >= EPOCH_FROM && c->highest <= EPOCH_TO)
		return NOD_NS_PER_S;
	if (c->lowest >= EPOCH_FROM * 1000 && c->highest <= EPOCH_TO * 1000)
		return NOD_NS_PER_MS;
	return 0;
}

/* -- time --------------------------------------------------------------- */

/* Dates in one column, times of day in another; or both in one. */
static int find_wall_columns(struct work *w)
{
	int date = -1, time = -1;

	for (unsigned i = 0; i < w->table->columns; i++) {
		const struct nod_csv_column *c = &w->table->column[i];
		if (!is_wall(c))
			continue;
		if (c->dates && !c->times)
			date = date == -1 ? (int)i : -2;
		else
			time = time == -1 ? (int)i : -2;
	}
	if (date == -2 || time == -2)
		return refuse_columns(w, "time", "--time-column");
	if (time == -1)
		return date == -1 ? 0 : refuse_columns(w, "time of day", "--time-column");
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
		if (is_numeric(c) && epoch_unit(c))
			found = found == -1 ? (int)i : -2;
	}
	return found < 0 ? -1 : found;
}

/* A numeric column that is one of times. -1: none, -EINVAL after refusing. */
static int find_number_time(const struct work *w)
{
	int found = -1, rising = -1, numeric = 0;
	char text[16];

	for (unsigned i = 0; i < w->table->columns; i++) {
		const struct nod_csv_column *c = &w->table->column[i];
		if (!is_numeric(c))
			continue;
		numeric++;
		if (HAS_WORD(c->name, time_words) || column_unit(c, text) == NOD_UNIT_SECOND ||
		    !strcasecmp(c->name, "t")) {
			if (found >= 0)
				return refuse_columns(w, "time", "--time-column");
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
	return refuse_columns(w, "time", "--time-column, or --interval when there is none");
}

static int refuse_zone(const struct work *w)
{
	return nod_error_set(w->err, EINVAL,
			     "the times do not say which time zone they are in; say --zone, such as "
			     "--zone +01:00 (summer time included) or --zone UTC");
}

static int check_date_order(const struct work *w, const struct nod_csv_column *c)
{
	if (c->day_first && c->month_first)
		return nod_error_set(w->err, EINVAL,
				     "some dates begin with the day and others with the month");
	if (!c->order_open || w->options->order != NOD_DATE_OPEN)
		return 0;
	if (c->day_first || c->month_first)
		return 0;
	return nod_error_set(w->err, EINVAL, "do the dates begin with the day or with the month? Say "
			     "--date-order dmy or mdy");
}

static int settle_wall(struct work *w)
{
	struct nod_csv_plan *p = w->plan;
	const struct nod_csv_column *date = &w->table->column[p->date_column];
	const struct nod_csv_column *time = &w->table->column[p->time_column];
	struct nod_wall_time wall;
	nod_time day;

	if (date->dates) {
		p->time = NOD_CSV_WALL;
		if (time->zones < time->walls && !w->options->zone_given)
			return refuse_zone(w);
		return check_date_order(w, date);
	}
	bool dated = w->options->date != NULL, started = nod_time_is_set(w->options->start);
	if (dated == started)
		return nod_error_set(w->err, EINVAL,
				     "%s holds times without a date: say --date YYYY-MM-DD when they "
				     "are times of day, or --start TIME when they count from the "
				     "start", time->name[0] ? time->name : "the time column");
	p->time = started ? NOD_CSV_ELAPSED : NOD_CSV_OF_DAY;
	if (started)
		return 0;
	if (!w->options->zone_given && time->zones < time->walls)
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

static int settle_number(struct work *w)
{
	struct nod_csv_plan *p = w->plan;
	const struct nod_csv_column *c = &w->table->column[p->time_column];
	char unit[16];

	column_unit(c, unit);
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
		return nod_error_set(w->err, EINVAL,
				     "the times are numbers without a unit of time; say --time-unit s "
				     "(or ms, min, h)");
	if (!nod_time_is_set(w->options->start))
		return nod_error_set(w->err, EINVAL,
				     "the times count from the start of the logger; say when that was: "
				     "--start TIME");
	return 0;
}

static int find_time(struct work *w)
{
	struct nod_csv_plan *p = w->plan;
	int found;

	p->time = NOD_CSV_COUNTED;
	if (w->options->time_column) {
		found = column_named(w, w->options->time_column, "--time-column");
		if (found < 0)
			return found;
		p->time_column = p->date_column = (unsigned)found;
		if (is_wall(&w->table->column[found]))
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
		return nod_error_set(w->err, EINVAL,
				     "there is no column of times; say --interval (such as 1 s) and "
				     "--start TIME");
	return 0;
}

/* -- values ------------------------------------------------------------- */

/* Which mark the numbers use; all columns speak, for one program wrote them. */
static int settle_decimal(struct work *w)
{
	uint64_t comma = 0, point = 0, comma_open = 0, point_open = 0;

	for (unsigned i = 0; i < w->table->columns; i++) {
		const struct nod_csv_column *c = &w->table->column[i];
		comma += c->comma_sure;
		point += c->point_sure;
		comma_open += c->comma_open;
		point_open += c->point_open;
	}
	w->plan->decimal = w->options->decimal == ',' ? NOD_DECIMAL_COMMA : NOD_DECIMAL_POINT;
	if (w->options->decimal)
		return 0;
	if (comma && point)
		return nod_error_set(w->err, EINVAL, "some numbers have a decimal comma and others a "
				     "decimal point; say --decimal comma or point");
	if (comma || point) {
		w->plan->decimal = comma ? NOD_DECIMAL_COMMA : NOD_DECIMAL_POINT;
		return 0;
	}
	/* "1.234" is refused where commas do not separate the columns: such a
	 * file may come from where points separate thousands. */
	if (comma_open || (point_open && w->table->separator == ';'))
		return nod_error_set(w->err, EINVAL,
				     "every %s stands before three digits: it may be a decimal mark or "
				     "separate thousands; say --decimal comma or point",
				     comma_open ? "comma" : "point");
	return 0;
}

static int settle_value(struct work *w)
{
	struct nod_csv_plan *p = w->plan;
	const struct nod_csv_column *c = &w->table->column[p->value_column];
	enum nod_unit unit = column_unit(c, p->unit_text);
	char name[NOD_CSV_COLUMN_TEXT];

	nod_csv_column_text(name, w->table, p->value_column);
	if (w->options->unit) {
		snprintf(p->unit_text, sizeof(p->unit_text), "%.15s", w->options->unit);
		if (!is_unit(p->unit_text, strlen(p->unit_text), &unit))
			return nod_error_set(w->err, EINVAL, "--unit %s is not known", p->unit_text);
	}
	if (unit == NOD_UNIT_NONE)
		return nod_error_set(w->err, EINVAL, "%s has no unit; say --unit mA (or A; mV with "
				     "--clamp)", name);
	if (unit != NOD_UNIT_AMPERE && unit != NOD_UNIT_VOLT)
		return nod_error_set(w->err, EINVAL, "%s is in %s, which is no current", name,
				     p->unit_text);
	if (unit == NOD_UNIT_VOLT && w->options->clamp_uohm <= 0)
		return nod_error_set(w->err, EINVAL, "%s is in volts; say what the clamp gives: --clamp "
				     "10mV/A (or 1mV/mA, 100mV/A)", name);
	if (unit == NOD_UNIT_AMPERE && w->options->clamp_uohm)
		return nod_error_set(w->err, EINVAL, "%s is in amperes already; leave out --clamp, or "
				     "say --unit mV", name);
	p->value_unit = unit;
	p->value_numerator = unit == NOD_UNIT_VOLT ? 1000000 : 1;
	p->value_denominator = unit == NOD_UNIT_VOLT ? w->options->clamp_uohm : 1;
	if (w->options->invert)
		p->value_numerator = -p->value_numerator;
	return 0;
}

int nod_csv_understand(struct nod_csv_plan *plan, FILE *in, const char *name,
		       const struct nod_csv_options *options, struct nod_error *err)
{
	struct nod_error inner = {""};
	struct work w = {plan, &plan->table, options, &inner};

	memset(plan, 0, sizeof(*plan));
	int rc = nod_csv_survey(&plan->table, in, name, options->separator, options->decimal, err);
	if (rc)
		return rc;
	rc = find_time(&w);
	if (!rc) {
		int column = find_value_column(&w);
		plan->value_column = column < 0 ? 0 : (unsigned)column;
		rc = column < 0 ? column : settle_value(&w);
	}
	if (!rc)
		rc = settle_decimal(&w);
	if (rc)
		return nod_error_set(err, -rc, "%s: %s", name, inner.text);
	nod_csv_say(plan, options);
	return 0;
}
