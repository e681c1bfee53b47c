/* SPDX-License-Identifier: MIT */
#include "current-csv.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "current-trace.h"
#include "wide-product.h"
#include "zone.h"

/* A time of day this much earlier than the one before is the next day. */
#define MIDNIGHT_NS (12 * 3600 * NOD_NS_PER_S)
#define DAY_NS (INT64_C(86400) * NOD_NS_PER_S)
#define QUARTER_S 900

struct reading {
	const struct nod_csv_plan *plan;
	const struct nod_csv_options *options;
	struct nod_csv_result *result;
	nod_csv_take *take;
	nod_csv_defect *defect;
	void *context;
	uint64_t line;
	int64_t of_day;          /* the latest time of day */
	int64_t day_ns;          /* midnight of it */
	uint64_t rows;           /* before this one */
	int64_t quarter, east_s; /* of the zone, in this quarter of an hour on the wall */
	bool quarter_known;
};

static int complain(struct reading *r, unsigned column, const char *reason)
{
	r->result->defects++;
	if (r->defect)
		r->defect(r->context, r->line, column, reason);
	return 0;
}

static uint64_t magnitude(int64_t number)
{
	return number < 0 ? 0 - (uint64_t)number : (uint64_t)number;
}

/* Millionths of a numeric time as a time. */
static bool scaled_time(nod_time *time, int64_t micro, int64_t unit_ns, int64_t origin)
{
	struct nod_quotient ns;
	int64_t passed;

	if (!nod_multiply_divide(&ns, magnitude(micro), (uint64_t)unit_ns, 1000000) ||
	    ns.whole > INT64_MAX)
		return false;
	passed = micro < 0 ? -(int64_t)ns.whole : (int64_t)ns.whole;
	return !__builtin_add_overflow(passed, origin, &time->ns) && time->ns != INT64_MIN;
}

static bool number_time(const struct reading *r, const char *text, nod_time *time)
{
	const struct nod_csv_plan *p = r->plan;
	struct nod_quantity q;
	int64_t origin = p->time == NOD_CSV_EPOCH ? 0 : r->options->start.ns;

	/* an epoch with nine digits behind the point keeps them all */
	if (p->time == NOD_CSV_EPOCH && p->time_ns == NOD_NS_PER_S &&
	    !nod_time_parse(time, text, strlen(text)))
		return true;
	return !nod_quantity_parse(&q, text, strlen(text), p->decimal, NULL) &&
	       (q.unit == NOD_UNIT_NONE || q.unit == NOD_UNIT_SECOND) &&
	       scaled_time(time, q.micro, q.unit == NOD_UNIT_SECOND ? NOD_NS_PER_S : p->time_ns,
			   origin);
}

static enum nod_date_order order_of(const struct reading *r)
{
	const struct nod_csv_column *c = &r->plan->table.column[r->plan->date_column];

	return c->day_first ? NOD_DATE_DMY : c->month_first ? NOD_DATE_MDY : r->options->order;
}

/* From what the wall showed; looked up once a quarter of an hour, at which clocks are set. */
static bool from_zone(struct reading *r, nod_time *time)
{
	int64_t wall = time->ns / NOD_NS_PER_S, utc;
	struct nod_error err;

	if (!r->options->zone)
		return true; /* there is one in each row, or it was refused before */
	if (wall / QUARTER_S != r->quarter || !r->quarter_known) {
		r->quarter_known = !nod_zone_to_utc(&utc, wall, r->options->zone, &err);
		r->quarter = wall / QUARTER_S;
		r->east_s = r->quarter_known ? wall - utc : 0;
	}
	time->ns -= r->east_s * NOD_NS_PER_S;
	return r->quarter_known;
}

static bool wall_time(struct reading *r, const struct nod_csv_row *row, nod_time *time)
{
	const struct nod_csv_plan *p = r->plan;
	bool comma = p->table.separator != ',' && p->table.separator != ' ';
	struct nod_wall_time date, of_day;

	if (nod_wall_parse(&of_day, row->field[p->time_column].text, comma) || !of_day.has_time)
		return false;
	if (p->time == NOD_CSV_ELAPSED) {
		*time = nod_time_after(r->options->start, (nod_duration){of_day.of_day});
		return true;
	}
	if (p->time == NOD_CSV_OF_DAY) {
		if (of_day.of_day < r->of_day - MIDNIGHT_NS)
			r->day_ns += DAY_NS;
		r->of_day = of_day.of_day;
		time->ns = r->day_ns + of_day.of_day - of_day.zone * 60 * NOD_NS_PER_S;
		return of_day.has_zone || from_zone(r, time);
	}
	date = of_day;
	if (p->date_column != p->time_column &&
	    nod_wall_parse(&date, row->field[p->date_column].text, false))
		return false;
	date.of_day = of_day.of_day;
	date.has_zone = of_day.has_zone;
	date.zone = of_day.zone;
	return !nod_wall_to_time(time, &date, order_of(r), 0) &&
	       (of_day.has_zone || from_zone(r, time));
}

static bool row_time(struct reading *r, const struct nod_csv_row *row, nod_time *time)
{
	switch (r->plan->time) {
	case NOD_CSV_EPOCH:
	case NOD_CSV_RELATIVE:
		return number_time(r, row->field[r->plan->time_column].text, time);
	case NOD_CSV_COUNTED:
		return scaled_time(time, (int64_t)(r->rows * 1000000), r->options->interval.ns,
				   r->options->start.ns);
	default:
		return wall_time(r, row, time);
	}
}

/* A meter that switches its range writes 1.2 A in one row and 28.1 mA in another. */
static const char *unit_of_row(const struct reading *r, const struct nod_csv_row *row)
{
	const struct nod_csv_plan *p = r->plan;
	unsigned units_in = p->table.column[p->value_column].units_in;

	return units_in && !r->options->unit ? row->field[units_in - 1].text : p->unit_text;
}

/* Returns NULL or why the cell is no current. */
static const char *row_value(const struct reading *r, const struct nod_csv_row *row,
			     int64_t *microamps)
{
	const struct nod_csv_plan *p = r->plan;
	const char *text = row->field[p->value_column].text, *unit = unit_of_row(r, row);
	char with_unit[NOD_CSV_NAME + 20];
	struct nod_quantity q;

	if (!*text)
		return "no value";
	if (nod_quantity_parse(&q, text, strlen(text), p->decimal, NULL))
		return "not a number";
	if (q.unit == NOD_UNIT_NONE) {
		if (strlen(text) >= NOD_CSV_NAME || !*unit)
			return "a value without a unit";
		snprintf(with_unit, sizeof(with_unit), "%s %.15s", text, unit);
		if (nod_quantity_parse(&q, with_unit, strlen(with_unit), p->decimal, NULL))
			return "a value that is too large, or in no known unit";
	}
	if (q.unit != p->value_unit)
		return "a value in another unit";
	struct nod_quotient halves;
	bool negative = (q.micro < 0) != (p->value_numerator < 0);
	if (!nod_multiply_divide(&halves, magnitude(q.micro), magnitude(p->value_numerator) * 2,
				 (uint64_t)p->value_denominator) ||
	    halves.whole > 2 * (uint64_t)NOD_CURRENT_LARGEST_UA)
		return "a current of more than 5000 A";
	int64_t ua = (int64_t)((halves.whole + 1) / 2);
	*microamps = negative ? -ua : ua;
	return NULL;
}

static int deliver(struct reading *r, nod_time time, int64_t ua)
{
	struct nod_csv_result *result = r->result;

	if (!result->samples) {
		result->from = time;
		result->lowest_ua = result->highest_ua = ua;
	}
	result->samples++;
	result->to = time;
	result->lowest_ua = ua < result->lowest_ua ? ua : result->lowest_ua;
	result->highest_ua = ua > result->highest_ua ? ua : result->highest_ua;
	return r->take ? r->take(r->context, time, ua) : 0;
}

static int take_row(struct reading *r, const struct nod_csv_row *row)
{
	const struct nod_csv_plan *p = r->plan;
	nod_time time;
	int64_t ua;

	if (!row_time(r, row, &time))
		return complain(r, row->field[p->time_column].column, "not a time");
	time = nod_time_after(time, r->options->offset);
	const char *reason = row_value(r, row, &ua);
	if (reason)
		return complain(r, row->field[p->value_column].column, reason);
	if (r->result->samples && time.ns < r->result->to.ns)
		return complain(r, row->field[p->time_column].column,
				"earlier than the row before");
	return deliver(r, time, ua);
}

int nod_csv_read(struct nod_csv_result *result, FILE *in, const struct nod_csv_plan *plan,
		 const struct nod_csv_options *options, nod_csv_take *take, nod_csv_defect *defect,
		 void *context)
{
	struct reading r = {.plan = plan,
			    .options = options,
			    .result = result,
			    .take = take,
			    .defect = defect,
			    .context = context,
			    .day_ns = plan->day_ns};
	char line[NOD_CSV_LINE];
	struct nod_csv_row row;
	int rc = 0, got;

	*result = (struct nod_csv_result){.from = NOD_TIME_NONE, .to = NOD_TIME_NONE};
	rewind(in);
	while (!rc && (got = nod_csv_read_line(in, line)) != 0) {
		if (got == -EIO)
			return got;
		if (++r.line < plan->table.first_line || (got > 0 && nod_csv_is_comment(line)))
			continue;
		if (got < 0)
			rc = complain(&r, NOD_CSV_LINE, "a line that is too long");
		else if (nod_csv_split(&row, line, plan->table.separator) ||
			 row.count != plan->table.columns)
			rc = complain(&r, 0, "another number of columns than in the rows before");
		else
			rc = take_row(&r, &row);
		r.rows++;
	}
	return rc;
}
