/* SPDX-License-Identifier: MIT */
/* What the columns of a logger's table mean. */
#include "current-csv-private.h"

#include <ctype.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

/* Headings by which loggers name a current or a time, in the languages that
 * were thought of. Common practice, no source. */
static const char *const current_words[] = {"current",   "strom",    "ampere", "amps",    "courant",
					    "corriente", "corrente", "stroom", "amperage"};
static const char *const time_words[] = {"time",    "zeit",    "stamp",   "datum",   "date",
					 "uhrzeit", "temps",   "heure",   "hora",    "tempo",
					 "ora",     "elapsed", "seconds", "sekunden"};

/* A column is one of numbers when at least this share of its full cells is: a
 * clamp may have shown overload for a long time. Chosen. */
#define NUMBER_SHARE 0.5

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

bool nod_csv_names_time(const char *name)
{
	return HAS_WORD(name, time_words);
}

bool nod_csv_is_numeric(const struct nod_csv_column *c)
{
	uint64_t full = c->cells - c->empty;

	return c->numbers && (double)c->numbers >= NUMBER_SHARE * (double)full;
}

bool nod_csv_is_wall(const struct nod_csv_column *c)
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
	    !nod_csv_names_time(name))
		return false;
	if (!is_unit(last, strlen(last), unit))
		return false;
	snprintf(out, 16, "%s", last);
	return true;
}

/* The unit of a column: from its own row or column of units, else its
 * heading. *out is "" when it has none. */
enum nod_unit nod_csv_column_unit(const struct nod_csv_column *c, char out[16])
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
int nod_csv_column_named(const struct nod_csv_work *w, const char *wanted, const char *option)
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

int nod_csv_refuse_columns(const struct nod_csv_work *w, const char *what, const char *option)
{
	char list[360] = "", one[NOD_CSV_COLUMN_TEXT];
	size_t used = 0;

	for (unsigned i = 0; i < w->table->columns && used < sizeof(list) - 100; i++)
		used += (size_t)snprintf(list + used, sizeof(list) - used, "%s%s", i ? ", " : "",
					 nod_csv_column_text(one, w->table, i));
	return nod_error_set(w->err, EINVAL, "which column holds the %s? Say %s; there are %s",
			     what, option, list);
}

static bool is_time_column(const struct nod_csv_work *w, unsigned i)
{
	return w->plan->time != NOD_CSV_COUNTED &&
	       (i == w->plan->time_column || i == w->plan->date_column);
}

/* The only numeric column with `unit` (NONE: with a unit or without).
 * -1: none, -2: several. */
static int only_column(const struct nod_csv_work *w, enum nod_unit unit, bool by_word)
{
	int found = -1;
	char text[16];

	for (unsigned i = 0; i < w->table->columns; i++) {
		const struct nod_csv_column *c = &w->table->column[i];
		if (is_time_column(w, i) || !nod_csv_is_numeric(c))
			continue;
		if (unit != NOD_UNIT_NONE && nod_csv_column_unit(c, text) != unit)
			continue;
		if (by_word && !HAS_WORD(c->name, current_words))
			continue;
		found = found == -1 ? (int)i : -2;
	}
	return found;
}

static int find_value_column(const struct nod_csv_work *w)
{
	int found;

	if (w->options->column)
		return nod_csv_column_named(w, w->options->column, "--column");
	found = only_column(w, w->options->clamp_uohm ? NOD_UNIT_VOLT : NOD_UNIT_AMPERE, false);
	if (found == -1)
		found = only_column(w, NOD_UNIT_NONE, true);
	if (found == -1)
		found = only_column(w, NOD_UNIT_NONE, false);
	return found < 0 ? nod_csv_refuse_columns(w, "current", "--column") : found;
}

/* -- values ------------------------------------------------------------- */

/* Which mark the numbers use; all columns speak, for one program wrote them. */
static int settle_decimal(struct nod_csv_work *w)
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
		return nod_error_set(w->err, EINVAL,
				     "some numbers have a decimal comma and others a "
				     "decimal point; say --decimal comma or point");
	if (comma || point) {
		w->plan->decimal = comma ? NOD_DECIMAL_COMMA : NOD_DECIMAL_POINT;
		return 0;
	}
	/* "1.234" is refused where commas do not separate the columns: such a
	 * file may come from where points separate thousands. */
	if (comma_open || (point_open && w->table->separator == ';'))
		return nod_error_set(
			w->err, EINVAL,
			"every %s stands before three digits: it may be a decimal mark or "
			"separate thousands; say --decimal comma or point",
			comma_open ? "comma" : "point");
	return 0;
}

static int settle_value(struct nod_csv_work *w)
{
	struct nod_csv_plan *p = w->plan;
	const struct nod_csv_column *c = &w->table->column[p->value_column];
	enum nod_unit unit = nod_csv_column_unit(c, p->unit_text);
	char name[NOD_CSV_COLUMN_TEXT];

	nod_csv_column_text(name, w->table, p->value_column);
	if (w->options->unit) {
		snprintf(p->unit_text, sizeof(p->unit_text), "%.15s", w->options->unit);
		if (!is_unit(p->unit_text, strlen(p->unit_text), &unit))
			return nod_error_set(w->err, EINVAL, "--unit %s is not known",
					     p->unit_text);
	}
	if (unit == NOD_UNIT_NONE)
		return nod_error_set(w->err, EINVAL,
				     "%s has no unit; say --unit mA (or A; mV with "
				     "--clamp)",
				     name);
	if (unit != NOD_UNIT_AMPERE && unit != NOD_UNIT_VOLT)
		return nod_error_set(w->err, EINVAL, "%s is in %s, which is no current", name,
				     p->unit_text);
	if (unit == NOD_UNIT_VOLT && w->options->clamp_uohm <= 0)
		return nod_error_set(w->err, EINVAL,
				     "%s is in volts; say what the clamp gives: --clamp "
				     "10mV/A (or 1mV/mA, 100mV/A)",
				     name);
	if (unit == NOD_UNIT_AMPERE && w->options->clamp_uohm)
		return nod_error_set(w->err, EINVAL,
				     "%s is in amperes already; leave out --clamp, or "
				     "say --unit mV",
				     name);
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
	struct nod_csv_work w = {plan, &plan->table, options, &inner};

	memset(plan, 0, sizeof(*plan));
	int rc = nod_csv_survey(&plan->table, in, name, options->separator, options->decimal, err);
	if (rc)
		return rc;
	rc = nod_csv_find_time(&w);
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
