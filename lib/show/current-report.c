/* SPDX-License-Identifier: MIT */
#include "current-report.h"

#include <math.h>
#include <string.h>

#include "json-build.h"
#include "paragraph.h"
#include "quantity.h"
#include "when.h"

/* Lines of a table; what is left out is counted. Chosen: one screen. */
#define TABLE_ROWS 15

#define AMPS(buf, ua) nod_quantity_print(buf, (int64_t)llround(ua), NOD_UNIT_AMPERE)

static const char *limit_text(const struct nod_current_findings *f)
{
	double low = f->quiescent_ua - f->quiescent_uncertainty_ua;
	double high = f->quiescent_ua + f->quiescent_uncertainty_ua;
	double limit = (double)f->limit_ua;

	return low > limit ? "above" : high <= limit ? "below" : "not clearly above or below";
}

void nod_current_rest_sentence(char *buf, size_t size, const struct nod_current_findings *f)
{
	char value[NOD_QUANTITY_TEXT], off[NOD_QUANTITY_TEXT], limit[NOD_QUANTITY_TEXT];
	int used;

	if (!f->quiescent_known) {
		snprintf(buf, size,
			 "The current at rest cannot be told: it never stayed at one "
			 "level for two minutes.");
		return;
	}
	AMPS(value, f->quiescent_ua);
	AMPS(off, f->quiescent_uncertainty_ua);
	if (f->within_noise)
		used = snprintf(buf, size,
				"The lowest lasting current, %s, cannot be told from zero: "
				"it may be off by %s",
				value, off);
	else
		used = snprintf(buf, size, "The lowest lasting current is %s, give or take %s",
				value, off);
	if (used < 0 || (size_t)used >= size)
		return;
	if (f->limit_ua > 0)
		snprintf(buf + used, size - (size_t)used, "; that is %s the limit of %s.",
			 limit_text(f), AMPS(limit, (double)f->limit_ua));
	else
		snprintf(buf + used, size - (size_t)used, ".");
}

void nod_current_pulses_sentence(char *buf, size_t size, const struct nod_current_pulse_group *g)
{
	char height[NOD_QUANTITY_TEXT], average[NOD_QUANTITY_TEXT], length[NOD_TIME_TEXT];
	char period[NOD_TIME_TEXT], every[NOD_TIME_TEXT + 16] = "";

	if (g->periodic)
		snprintf(every, sizeof(every), ", every %s", nod_duration_print(period, g->period));
	else if (g->count > 1)
		snprintf(every, sizeof(every), ", without a period");
	snprintf(buf, size, "%zu pulse%s of about %s for %s%s: %s on average.%s", g->count,
		 g->count == 1 ? "" : "s", AMPS(height, g->height_ua),
		 nod_duration_print(length, g->duration), every, AMPS(average, g->average_ua),
		 g->telemetry_like ? " This is what a telematics unit looks like that reports: "
				     "80-240 mA for about 45 s every 9-10 min are normal for one."
				   : "");
}

static void print_charge(FILE *out, const struct nod_current_findings *f, bool locked)
{
	char length[NOD_TIME_TEXT], charge[NOD_QUANTITY_TEXT], mean[NOD_QUANTITY_TEXT];
	char missing[NOD_TIME_TEXT];

	if (!f->measured.ns)
		return;
	nod_paragraph_printf(
		out, "", "In %s %s the car took %s, %s on average.",
		nod_duration_print(length, f->measured), locked ? "since the lock" : "of recording",
		nod_quantity_print(charge, (int64_t)llround(f->charge_uah), NOD_UNIT_AMPERE_HOUR),
		AMPS(mean, f->mean_ua));
	if (f->not_measured.ns >= 60 * NOD_NS_PER_S)
		nod_paragraph_printf(out, "", "For another %s there are no samples.",
				     nod_duration_print(missing, f->not_measured));
}

static void print_groups(FILE *out, const struct nod_current_findings *f)
{
	char text[400], average[NOD_QUANTITY_TEXT];

	if (!f->group_count && fabs(f->blinks_average_ua) < 1000)
		return;
	fputs("\nPulses\n", out);
	for (size_t i = 0; i < f->group_count && i < TABLE_ROWS; i++) {
		nod_current_pulses_sentence(text, sizeof(text), &f->groups[i]);
		nod_paragraph_print(out, "  - ", text);
	}
	if (fabs(f->blinks_average_ua) >= 1000)
		nod_paragraph_printf(out, "  - ",
				     "What lasts less than a second adds %s on average.",
				     AMPS(average, f->blinks_average_ua));
}

#define AT_TEXT (NOD_WHEN_TEXT + NOD_TIME_TEXT)

/* "Tue 14:03:12  +12 min 30 s", "      -40.0 s": the clock, and since the lock. */
static const char *at_text(char buf[AT_TEXT], const struct nod_current_findings *f, nod_time time)
{
	char text[NOD_TIME_TEXT], since[NOD_TIME_TEXT + 1], clock[NOD_WHEN_TEXT];

	nod_duration_print(text, nod_time_since(time, f->since));
	snprintf(since, sizeof(since), "%s%s", *text == '-' ? "" : "+", text);
	snprintf(buf, AT_TEXT, "%s%14s", nod_when_print_day(clock, time, NULL), since);
	return buf;
}

static void print_more(FILE *out, size_t count)
{
	if (count > TABLE_ROWS)
		fprintf(out, "  ... and %zu more (all with --json)\n", count - TABLE_ROWS);
}

static void print_levels(FILE *out, const struct nod_current_findings *f)
{
	char at[AT_TEXT], length[NOD_TIME_TEXT];
	char value[NOD_QUANTITY_TEXT], off[NOD_QUANTITY_TEXT];

	fputs("\nLevels\n", out);
	for (size_t i = 0; i < f->level_count && i < TABLE_ROWS; i++) {
		const struct nod_current_level *l = &f->levels[i];
		fprintf(out, "  %s  %10s  +- %-9s for %s\n", at_text(at, f, l->from),
			AMPS(value, l->ua), AMPS(off, l->uncertainty_ua),
			nod_duration_print(length, nod_time_since(l->to, l->from)));
	}
	print_more(out, f->level_count);
}

static void print_steps(FILE *out, const struct nod_current_findings *f)
{
	char at[AT_TEXT], change[NOD_QUANTITY_TEXT + 1];
	char size[NOD_QUANTITY_TEXT], off[NOD_QUANTITY_TEXT];

	if (!f->step_count)
		return;
	fputs("\nSteps\n", out);
	for (size_t i = 0; i < f->step_count && i < TABLE_ROWS; i++) {
		const struct nod_current_step *s = &f->steps[i];
		snprintf(change, sizeof(change), "%c%s", s->change_ua < 0 ? '-' : '+',
			 AMPS(size, fabs(s->change_ua)));
		AMPS(off, s->uncertainty_ua);
		fprintf(out, "  %s  %10s  +- ", at_text(at, f, s->time), change);
		if (s->zeroing)
			fprintf(out, "%-9s the clamp was zeroed\n", off);
		else
			fprintf(out, "%s\n", off);
	}
	print_more(out, f->step_count);
}

static void print_doubts(FILE *out, const struct nod_current_findings *f)
{
	char off[NOD_QUANTITY_TEXT];

	fputc('\n', out);
	if (f->wander_ua > 0 && !f->zeroings)
		nod_paragraph_printf(
			out, "  - ",
			"The clamp was never zeroed in this recording: its zero may be off "
			"by %s. Zero it, and note it, for a better figure.",
			AMPS(off, (double)f->wander_ua));
	if (f->out_of_order)
		nod_paragraph_printf(out, "  - ",
				     "%llu samples earlier than the one before were left "
				     "out.",
				     (unsigned long long)f->out_of_order);
	if (f->impossible)
		nod_paragraph_printf(out, "  - ", "%llu impossible values were left out.",
				     (unsigned long long)f->impossible);
}

void nod_current_report_print(FILE *out, const struct nod_current_findings *f, bool locked)
{
	char text[400];

	nod_current_rest_sentence(text, sizeof(text), f);
	nod_paragraph_print(out, "", text);
	print_charge(out, f, locked);
	print_groups(out, f);
	print_levels(out, f);
	print_steps(out, f);
	if ((f->wander_ua > 0 && !f->zeroings) || f->out_of_order || f->impossible)
		print_doubts(out, f);
}

/* -- JSON ---------------------------------------------------------------- */

static json_t *milli(double micro)
{
	return nod_json_number(micro / 1e3);
}

static json_t *seconds(nod_duration d)
{
	return d.ns == INT64_MIN ? json_null() : nod_json_number((double)d.ns / 1e9);
}

static json_t *since(const struct nod_current_findings *f, nod_time time)
{
	return nod_time_is_set(time) ? seconds(nod_time_since(time, f->since)) : json_null();
}

static json_t *rest_json(const struct nod_current_findings *f)
{
	if (!f->quiescent_known)
		return json_null();
	return json_pack("{s:o, s:o, s:o, s:o, s:b}", "ma", milli(f->quiescent_ua),
			 "uncertainty_ma", milli(f->quiescent_uncertainty_ua), "from_s",
			 since(f, f->quiescent_from), "to_s", since(f, f->quiescent_to),
			 "within_noise", f->within_noise);
}

static json_t *groups_json(const struct nod_current_findings *f)
{
	json_t *list = json_array();

	for (size_t i = 0; list && i < f->group_count; i++) {
		const struct nod_current_pulse_group *g = &f->groups[i];
		nod_json_append(&list,
				json_pack("{s:I, s:o, s:o, s:b, s:o, s:o, s:o, s:b}", "count",
					  (json_int_t)g->count, "height_ma", milli(g->height_ua),
					  "length_s", seconds(g->duration), "periodic", g->periodic,
					  "period_s", seconds(g->period), "jitter_s",
					  seconds(g->jitter), "average_ma", milli(g->average_ua),
					  "telemetry_like", g->telemetry_like));
	}
	return list;
}

static json_t *pulses_json(const struct nod_current_findings *f)
{
	json_t *list = json_array();

	for (size_t i = 0; list && i < f->pulse_count; i++) {
		const struct nod_current_pulse *p = &f->pulses[i];
		nod_json_append(&list,
				json_pack("{s:o, s:o, s:o, s:o, s:o, s:i}", "from_s",
					  since(f, p->from), "to_s", since(f, p->to), "base_ma",
					  milli(p->base_ua), "height_ma", milli(p->height_ua),
					  "charge_mah", milli(p->charge_uah), "group", p->group));
	}
	return list;
}

static json_t *levels_json(const struct nod_current_findings *f)
{
	json_t *list = json_array();

	for (size_t i = 0; list && i < f->level_count; i++) {
		const struct nod_current_level *l = &f->levels[i];
		nod_json_append(&list,
				json_pack("{s:o, s:o, s:o, s:o, s:o}", "from_s", since(f, l->from),
					  "to_s", since(f, l->to), "ma", milli(l->ua),
					  "uncertainty_ma", milli(l->uncertainty_ua), "noise_ma",
					  milli(l->noise_ua)));
	}
	return list;
}

static json_t *steps_json(const struct nod_current_findings *f)
{
	json_t *list = json_array();

	for (size_t i = 0; list && i < f->step_count; i++) {
		const struct nod_current_step *s = &f->steps[i];
		nod_json_append(&list, json_pack("{s:o, s:o, s:o, s:o, s:o, s:o, s:b}", "at_s",
						 since(f, s->time), "unsure_s", seconds(s->unsure),
						 "before_ma", milli(s->before_ua), "after_ma",
						 milli(s->after_ua), "change_ma",
						 milli(s->change_ua), "uncertainty_ma",
						 milli(s->uncertainty_ua), "zeroing", s->zeroing));
	}
	return list;
}

json_t *nod_current_report_json(const struct nod_current_findings *f, bool locked)
{
	char from[NOD_TIME_TEXT];

	return json_pack(
		"{s:s, s:s, s:I, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:I, "
		"s:I, s:I}",
		"since", nod_time_print(from, f->since, 6), "since_is",
		locked ? "lock" : "start of the recording", "samples", (json_int_t)f->samples,
		"at_rest", rest_json(f), "limit_ma",
		f->limit_ua > 0 ? milli((double)f->limit_ua) : json_null(), "charge_ah",
		nod_json_number(f->charge_uah / 1e6), "mean_ma",
		f->measured.ns ? milli(f->mean_ua) : json_null(), "measured_s",
		seconds(f->measured), "not_measured_s", seconds(f->not_measured),
		"pulses_average_ma", milli(f->pulses_average_ua), "blinks_average_ma",
		milli(f->blinks_average_ua), "pulse_groups", groups_json(f), "pulses",
		pulses_json(f), "levels", levels_json(f), "steps", steps_json(f), "zeroings",
		(json_int_t)f->zeroings, "out_of_order", (json_int_t)f->out_of_order, "impossible",
		(json_int_t)f->impossible);
}
