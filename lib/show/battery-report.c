/* SPDX-License-Identifier: MIT */
#include "battery-report.h"

#include <inttypes.h>

#include "json-build.h"
#include "paragraph.h"
#include "quantity.h"

#define SECONDS_PER_DAY 86400

/* "9.4 days", "15 hours", "0 days"; best cases may have no limit. */
static const char *time_text(char buf[NOD_QUANTITY_TEXT], int64_t seconds)
{
	int64_t tenths = seconds / (SECONDS_PER_DAY / 10);

	if (seconds == NOD_BATTERY_NO_LIMIT)
		snprintf(buf, NOD_QUANTITY_TEXT, "no limit");
	else if (seconds && seconds < SECONDS_PER_DAY)
		snprintf(buf, NOD_QUANTITY_TEXT, "%" PRId64 " hours", seconds / 3600);
	else if (tenths >= 1000)
		snprintf(buf, NOD_QUANTITY_TEXT, "%" PRId64 " days", tenths / 10);
	else
		snprintf(buf, NOD_QUANTITY_TEXT, "%" PRId64 ".%" PRId64 " days", tenths / 10,
			 tenths % 10);
	return buf;
}

static const char *percent(char buf[NOD_QUANTITY_TEXT], int64_t ppm)
{
	return nod_quantity_print_fixed(buf, ppm * 100, NOD_UNIT_PERCENT, 0);
}

/* -- the answer --------------------------------------------------------- */

static void answer_time(FILE *out, const struct nod_battery_input *in, const struct nod_battery *b)
{
	char worst[NOD_QUANTITY_TEXT], rule[NOD_QUANTITY_TEXT], best[NOD_QUANTITY_TEXT];
	char line[NOD_QUANTITY_TEXT], ma[NOD_QUANTITY_TEXT];

	nod_quantity_print(ma, in->current_ua, NOD_UNIT_AMPERE);
	percent(line, in->no_start_ppm);
	time_text(worst, b->seconds.worst);
	time_text(rule, b->seconds.rule);
	time_text(best, b->seconds.best);
	if (!b->usable.best)
		nod_paragraph_printf(out, "",
				     "It may not start now: its charge is below the %s at which no "
				     "start is to be expected. Charge it.",
				     line);
	else if (!b->usable.worst)
		nod_paragraph_printf(out, "",
				     "It may fail to start already, or last up to %s at %s: its "
				     "charge is near the %s at which no start is to be expected.",
				     best, ma, line);
	else
		nod_paragraph_printf(out, "",
				     "At %s it starts for about %s more: %s in the worst case, %s "
				     "in the best.",
				     ma, rule, worst, best);
}

static void answer_charge(FILE *out, const struct nod_battery *b)
{
	char low[NOD_QUANTITY_TEXT], middle[NOD_QUANTITY_TEXT], high[NOD_QUANTITY_TEXT];

	nod_paragraph_printf(out, "", "The battery is about %s charged, between %s and %s.",
			     percent(middle, b->charge.rule), percent(low, b->charge.worst),
			     percent(high, b->charge.best));
}

static void answer_drain(FILE *out, const struct nod_battery *b)
{
	char limit[NOD_QUANTITY_TEXT];

	nod_paragraph_printf(out, "",
			     "By the reserve rule the drain of the parked car may be %s at most.",
			     nod_quantity_print(limit, b->largest_drain_ua, NOD_UNIT_AMPERE));
}

static void answer(FILE *out, const struct nod_battery_input *in, const struct nod_battery *b)
{
	if (b->time_known)
		answer_time(out, in, b);
	else if (b->charge_measured)
		answer_charge(out, b);
	else if (b->largest_drain_ua != NOD_BATTERY_UNKNOWN)
		answer_drain(out, b);
	else
		nod_paragraph_print(out, "", "Nothing can be worked out from what is given.");
}

/* -- the numbers -------------------------------------------------------- */

static void row(FILE *out, const char *label, const char *text)
{
	fprintf(out, "  %-18s %s\n", label, text);
}

static void row_range(FILE *out, const char *label, const char *text, const char *low,
		      const char *high, const char *more)
{
	fprintf(out, "  %-18s %s (%s to %s)%s\n", label, text, low, high, more);
}

static void print_charge(FILE *out, const struct nod_battery_input *in, const struct nod_battery *b)
{
	char text[NOD_QUANTITY_TEXT], low[NOD_QUANTITY_TEXT], high[NOD_QUANTITY_TEXT];

	if (!b->charge_measured) {
		row(out, "charge", "not measured: a full battery is assumed");
		return;
	}
	row_range(out, "rest voltage",
		  nod_quantity_print_fixed(text, in->rest_uv, NOD_UNIT_VOLT, 2),
		  nod_quantity_print_fixed(low, in->rest_uv - in->rest_uncertainty_uv,
					   NOD_UNIT_VOLT, 2),
		  nod_quantity_print_fixed(high, in->rest_uv + in->rest_uncertainty_uv,
					   NOD_UNIT_VOLT, 2),
		  " by the meter");
	if (in->temperature_microcelsius != NOD_BATTERY_UNKNOWN)
		row(out, "at 27 C",
		    nod_quantity_print_fixed(text, b->compensated_uv, NOD_UNIT_VOLT, 2));
	row_range(out, "charge", percent(text, b->charge.rule), percent(low, b->charge.worst),
		  percent(high, b->charge.best),
		  in->type == NOD_BATTERY_FLOODED ? ", flooded"
		  : in->type == NOD_BATTERY_AGM   ? ", AGM"
						  : ", flooded or AGM");
}

static const char *amp_hours(char buf[NOD_QUANTITY_TEXT], int64_t uah)
{
	return nod_quantity_print_fixed(buf, uah, NOD_UNIT_AMPERE_HOUR, 1);
}

static void print_capacity(FILE *out, const struct nod_battery_input *in,
			   const struct nod_battery *b)
{
	char text[NOD_QUANTITY_TEXT], low[NOD_QUANTITY_TEXT], high[NOD_QUANTITY_TEXT];
	bool reserve = in->reserve_s != NOD_BATTERY_UNKNOWN;

	if (!b->capacity_known)
		return;
	if (b->capacity.worst == b->capacity.best)
		fprintf(out, "  %-18s %s%s\n", "capacity", amp_hours(text, b->capacity.rule),
			reserve ? ", reserve minutes x 0.6" : ", as rated");
	else
		row_range(out, "capacity", amp_hours(text, b->capacity.rule),
			  amp_hours(low, b->capacity.worst), amp_hours(high, b->capacity.best),
			  ", rating and reserve x 0.6");
	if (b->time_known)
		row_range(out, "until no start", amp_hours(text, b->usable.rule),
			  amp_hours(low, b->usable.worst), amp_hours(high, b->usable.best), "");
}

static void print_drain(FILE *out, const struct nod_battery_input *in, const struct nod_battery *b)
{
	static const char *const verdicts[] = {"", ": within it", ": over it",
					       ": too close to tell"};
	char text[NOD_QUANTITY_TEXT], off[NOD_QUANTITY_TEXT], limit[NOD_QUANTITY_TEXT];

	if (in->current_ua != NOD_BATTERY_UNKNOWN)
		fprintf(out, "  %-18s %s, +-%s\n", "drain",
			nod_quantity_print(text, in->current_ua, NOD_UNIT_AMPERE),
			nod_quantity_print(off, in->current_uncertainty_ua, NOD_UNIT_AMPERE));
	if (b->largest_drain_ua != NOD_BATTERY_UNKNOWN)
		fprintf(out, "  %-18s %s, reserve minutes / 4%s\n", "acceptable drain",
			nod_quantity_print(limit, b->largest_drain_ua, NOD_UNIT_AMPERE),
			verdicts[b->drain]);
}

/* -- what it rests on --------------------------------------------------- */

static void print_rules(FILE *out, const struct nod_battery_input *in)
{
	char line[NOD_QUANTITY_TEXT], a_day[NOD_QUANTITY_TEXT];

	nod_paragraph_printf(out, "",
			     "The rule: no start below %s of the full capacity. Worst case: least "
			     "charge, most current, and %s self-discharge a week; best case: most "
			     "charge, least current, none.",
			     percent(line, in->no_start_ppm),
			     nod_quantity_print_fixed(a_day, in->self_discharge_ppm_per_day * 700,
						      NOD_UNIT_PERCENT, 1));
}

/* A voltage that is known not to count is said right after the answer. */
static void print_unrested(FILE *out, const struct nod_battery_input *in,
			   const struct nod_battery *b)
{
	if (b->charge_measured && in->rested_s != NOD_BATTERY_UNKNOWN && !b->rested)
		nod_paragraph_print(out, "",
				    "But it has not rested long enough: before 4 hours, better 24, "
				    "the voltage is too high after a charge and too low after a "
				    "load. Measure again.");
}

static void print_doubts(FILE *out, const struct nod_battery_input *in, const struct nod_battery *b)
{
	if (!b->charge_measured)
		return;
	if (in->rested_s == NOD_BATTERY_UNKNOWN)
		nod_paragraph_print(out, "",
				    "The voltage counts after 4 hours of rest, better 24; before, "
				    "it is too high after a charge and too low after a load.");
	if (b->recharge)
		nod_paragraph_print(out, "",
				    "Below 12.5 V: recharge it before it stands any longer.");
}

static void print_missing(FILE *out, const struct nod_battery_input *in,
			  const struct nod_battery *b)
{
	if (b->time_known)
		return;
	nod_paragraph_printf(out, "", "For the days it lasts, give %s%s%s.",
			     in->current_ua == NOD_BATTERY_UNKNOWN ? "the drain current" : "",
			     in->current_ua == NOD_BATTERY_UNKNOWN && !b->capacity_known ? " and "
											 : "",
			     b->capacity_known ? "" : "its capacity or reserve minutes");
}

void nod_battery_print(FILE *out, const struct nod_battery_input *input,
		       const struct nod_battery *battery)
{
	answer(out, input, battery);
	print_unrested(out, input, battery);
	fputc('\n', out);
	print_charge(out, input, battery);
	print_capacity(out, input, battery);
	print_drain(out, input, battery);
	fputc('\n', out);
	if (battery->time_known)
		print_rules(out, input);
	print_missing(out, input, battery);
	print_doubts(out, input, battery);
}

/* -- for programs ------------------------------------------------------- */

static json_t *scaled(int64_t value, double unit)
{
	if (value == NOD_BATTERY_UNKNOWN || value == NOD_BATTERY_NO_LIMIT)
		return json_null();
	return nod_json_number((double)value / unit);
}

static json_t *range(bool known, const struct nod_battery_range *r, double unit)
{
	if (!known)
		return json_null();
	return json_pack("{s:o, s:o, s:o}", "worst", scaled(r->worst, unit), "rule",
			 scaled(r->rule, unit), "best", scaled(r->best, unit));
}

json_t *nod_battery_json(const struct nod_battery_input *input, const struct nod_battery *battery)
{
	static const char *const drains[] = {"unknown", "within", "over", "undecided"};
	const struct nod_battery *b = battery;

	return json_pack(
		"{s:s, s:o, s:o, s:b, s:b, s:o, s:o, s:o, s:o, s:o, s:s, s:b, s:b}", "type",
		nod_battery_type_name(input->type), "rest_v", scaled(input->rest_uv, 1e6),
		"current_ma", scaled(input->current_ua, 1e3), "charge_measured", b->charge_measured,
		"rested", b->rested, "charge", range(true, &b->charge, 1e6), "capacity_ah",
		range(b->capacity_known, &b->capacity, 1e6), "until_no_start_ah",
		range(b->time_known, &b->usable, 1e6), "days",
		range(b->time_known, &b->seconds, SECONDS_PER_DAY), "acceptable_drain_ma",
		scaled(b->largest_drain_ua, 1e3), "drain", drains[b->drain], "recharge",
		b->recharge, "no_limit", b->time_known && b->seconds.best == NOD_BATTERY_NO_LIMIT);
}
