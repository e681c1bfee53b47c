/* SPDX-License-Identifier: MIT */
#include "battery.h"

#include <errno.h>
#include <stddef.h>
#include <strings.h>

#define MILLION INT64_C(1000000)
#define SECONDS_PER_HOUR 3600
#define SECONDS_PER_DAY 86400

/* -- charge from voltage ------------------------------------------------ */

struct point {
	int32_t uv, ppm;
};

#define END          \
	{            \
		0, 0 \
	}

/* Flooded, open circuit at 80 F ("Source: BCI"). */
static const struct point flooded_bci[] = {{11890000, 0},       {12060000, 250000},
					   {12240000, 500000},  {12450000, 750000},
					   {12650000, 1000000}, END};

/* "At rest", 25 C (owner's manual of a solar-powered sign, p. 42). */
static const struct point flooded_rest[] = {{11720000, 100000},
					    {11880000, 200000},
					    {12020000, 300000},
					    {12120000, 400000},
					    {12200000, 500000},
					    {12280000, 600000},
					    {12360000, 700000},
					    {12460000, 800000},
					    {12580000, 900000},
					    {12700000, 1000000},
					    END};

/* AGM: rows of a vehicle owner's manual (publication 0000836273): 100 % is
 * 12.8 to 13.2 V, 75 % from 12.6, 50 % from 12.3, 25 % from 12.0. The upper edge
 * of a row gives the least charge a voltage can mean, the lower edge the
 * most; other sources have 100 % from 12.7 V on. */
static const struct point agm_least[] = {{12000000, 0},       {12300000, 250000},
					 {12600000, 500000},  {12800000, 750000},
					 {13200000, 1000000}, END};
static const struct point agm_most[] = {
	{12000000, 250000}, {12300000, 500000}, {12600000, 750000}, {12700000, 1000000}, END};

static int64_t interpolated(const struct point *p, int64_t uv)
{
	if (uv <= p->uv)
		return p->ppm;
	for (; p[1].uv; p++)
		if (uv <= p[1].uv)
			return p->ppm + (uv - p->uv) * (p[1].ppm - p->ppm) / (p[1].uv - p->uv);
	return p->ppm;
}

static int64_t least(int64_t a, int64_t b)
{
	return a < b ? a : b;
}

static int64_t most(int64_t a, int64_t b)
{
	return a > b ? a : b;
}

static struct nod_ppm_range flooded(int64_t uv)
{
	int64_t bci = interpolated(flooded_bci, uv), rest = interpolated(flooded_rest, uv);

	return (struct nod_ppm_range){least(bci, rest), bci, most(bci, rest)};
}

static struct nod_ppm_range agm(int64_t uv)
{
	int64_t low = interpolated(agm_least, uv), high = interpolated(agm_most, uv);

	return (struct nod_ppm_range){low, (low + high) / 2, high};
}

struct nod_ppm_range nod_battery_charge(enum nod_battery_type type, int64_t rest_uv)
{
	struct nod_ppm_range f = flooded(rest_uv), a = agm(rest_uv);

	if (type == NOD_BATTERY_FLOODED)
		return f;
	if (type == NOD_BATTERY_AGM)
		return a;
	int64_t low = least(f.low, a.low), high = most(f.high, a.high);
	return (struct nod_ppm_range){low, (low + high) / 2, high};
}

int64_t nod_battery_compensated_uv(int64_t rest_uv, int64_t microcelsius)
{
	return rest_uv + (microcelsius - NOD_BATTERY_TABLE_MICROCELSIUS) *
				 NOD_BATTERY_UV_PER_CELSIUS / MILLION;
}

static void judge_charge(struct nod_battery *out, const struct nod_battery_input *in)
{
	out->charge = (struct nod_battery_range){MILLION, MILLION, MILLION};
	out->rested = in->rested_s != NOD_BATTERY_UNKNOWN && in->rested_s >= NOD_BATTERY_REST_S;
	if (in->rest_uv == NOD_BATTERY_UNKNOWN)
		return;
	int64_t uv = in->rest_uv;
	if (in->temperature_microcelsius != NOD_BATTERY_UNKNOWN)
		uv = nod_battery_compensated_uv(uv, in->temperature_microcelsius);
	out->charge_measured = true;
	out->compensated_uv = uv;
	out->recharge = uv < NOD_BATTERY_RECHARGE_UV;
	out->charge.worst = nod_battery_charge(in->type, uv - in->rest_uncertainty_uv).low;
	out->charge.rule = nod_battery_charge(in->type, uv).nominal;
	out->charge.best = nod_battery_charge(in->type, uv + in->rest_uncertainty_uv).high;
}

/* -- time --------------------------------------------------------------- */

static void judge_capacity(struct nod_battery *out, const struct nod_battery_input *in)
{
	bool rated = in->capacity_uah != NOD_BATTERY_UNKNOWN;
	bool reserve = in->reserve_s != NOD_BATTERY_UNKNOWN;
	int64_t from_reserve = 0;

	if (reserve)
		from_reserve = in->reserve_s * NOD_BATTERY_MAH_PER_RESERVE_MINUTE * 1000 / 60;
	int64_t a = rated ? in->capacity_uah : from_reserve;
	int64_t b = reserve ? from_reserve : a;
	out->capacity_known = rated || reserve;
	/* The rule is stated for reserve minutes; they win where both are given. */
	out->capacity = (struct nod_battery_range){least(a, b), b, most(a, b)};
}

/* What is left above the no-start line; products stay below 2^63 as
 * capacities are bounded by check(). */
static int64_t usable(int64_t capacity_uah, int64_t charge_ppm, int64_t no_start_ppm)
{
	return charge_ppm > no_start_ppm ? capacity_uah * (charge_ppm - no_start_ppm) / MILLION : 0;
}

static int64_t seconds(int64_t usable_uah, int64_t drain_ua)
{
	if (!usable_uah)
		return 0;
	return drain_ua > 0 ? usable_uah * SECONDS_PER_HOUR / drain_ua : NOD_BATTERY_NO_LIMIT;
}

static void judge_time(struct nod_battery *out, const struct nod_battery_input *in)
{
	const struct nod_battery_range *c = &out->capacity;
	int64_t line = in->no_start_ppm;

	out->time_known = out->capacity_known && in->current_ua != NOD_BATTERY_UNKNOWN;
	if (!out->time_known)
		return;
	int64_t self = c->worst * in->self_discharge_ppm_per_day / MILLION / 24; /* as a drain */
	out->usable = (struct nod_battery_range){usable(c->worst, out->charge.worst, line),
						 usable(c->rule, out->charge.rule, line),
						 usable(c->best, out->charge.best, line)};
	out->seconds = (struct nod_battery_range){
		seconds(out->usable.worst, in->current_ua + in->current_uncertainty_ua + self),
		seconds(out->usable.rule, in->current_ua),
		seconds(out->usable.best, in->current_ua - in->current_uncertainty_ua)};
}

static void judge_drain(struct nod_battery *out, const struct nod_battery_input *in)
{
	out->largest_drain_ua = NOD_BATTERY_UNKNOWN;
	out->drain = NOD_DRAIN_UNKNOWN;
	if (in->reserve_s == NOD_BATTERY_UNKNOWN)
		return;
	int64_t limit = in->reserve_s * NOD_BATTERY_DRAIN_UA_PER_RESERVE_MINUTE / 60;
	out->largest_drain_ua = limit;
	if (in->current_ua == NOD_BATTERY_UNKNOWN)
		return;
	out->drain = in->current_ua + in->current_uncertainty_ua <= limit  ? NOD_DRAIN_WITHIN
		     : in->current_ua - in->current_uncertainty_ua > limit ? NOD_DRAIN_OVER
									   : NOD_DRAIN_UNDECIDED;
}

/* -- all ---------------------------------------------------------------- */

struct nod_battery_input nod_battery_input_unknown(void)
{
	return (struct nod_battery_input){
		.type = NOD_BATTERY_ANY,
		.rest_uv = NOD_BATTERY_UNKNOWN,
		.temperature_microcelsius = NOD_BATTERY_UNKNOWN,
		.rested_s = NOD_BATTERY_UNKNOWN,
		.capacity_uah = NOD_BATTERY_UNKNOWN,
		.reserve_s = NOD_BATTERY_UNKNOWN,
		.current_ua = NOD_BATTERY_UNKNOWN,
		.no_start_ppm = NOD_BATTERY_NO_START_PPM,
		.self_discharge_ppm_per_day = NOD_BATTERY_SELF_DISCHARGE_PPM_PER_DAY,
	};
}

/* Bounds of what is taken, far beyond any car; they keep the sums exact. */
static const int64_t largest_capacity_uah = 2000 * MILLION;
static const int64_t largest_reserve_s = 2000 * 60;
static const int64_t largest_current_ua = 2000 * MILLION;

static bool beyond(int64_t value, int64_t low, int64_t high)
{
	return value != NOD_BATTERY_UNKNOWN && (value < low || value > high);
}

static int check_voltage(const struct nod_battery_input *in, struct nod_error *err)
{
	if (in->rest_uv == NOD_BATTERY_UNKNOWN)
		return 0;
	if (in->rest_uv > NOD_BATTERY_HIGHEST_UV)
		return nod_error_set(err, EINVAL,
				     "above 13.2 V a 12 V battery is not at rest: something "
				     "charges it, or did until just now; let it rest 4 hours");
	if (in->rest_uv < NOD_BATTERY_LOWEST_UV)
		return nod_error_set(err, EINVAL,
				     "below 9.9 V it has a dead cell, is under load, or is no 12 V "
				     "battery: no table applies");
	return 0;
}

static int check(const struct nod_battery_input *in, struct nod_error *err)
{
	if (beyond(in->temperature_microcelsius, -60 * MILLION, 90 * MILLION))
		return nod_error_set(err, EINVAL, "a battery is between -60 and 90 C");
	if (beyond(in->capacity_uah, MILLION, largest_capacity_uah))
		return nod_error_set(err, EINVAL, "a car battery has 1 to 2000 Ah");
	if (beyond(in->reserve_s, 60, largest_reserve_s))
		return nod_error_set(err, EINVAL, "reserve capacity is 1 to 2000 min");
	if (beyond(in->current_ua, 0, largest_current_ua) || in->current_uncertainty_ua < 0 ||
	    in->current_uncertainty_ua > largest_current_ua)
		return nod_error_set(err, EINVAL, "a drain is 0 to 2000 A");
	if (in->no_start_ppm < 0 || in->no_start_ppm > MILLION ||
	    in->self_discharge_ppm_per_day < 0 || in->self_discharge_ppm_per_day > MILLION ||
	    in->rest_uncertainty_uv < 0 || in->rest_uncertainty_uv > NOD_BATTERY_HIGHEST_UV)
		return nod_error_set(err, EINVAL, "a share is between 0 and 100 %%");
	return check_voltage(in, err);
}

int nod_battery_judge(struct nod_battery *out, const struct nod_battery_input *in,
		      struct nod_error *err)
{
	int rc = check(in, err);

	if (rc)
		return rc;
	*out = (struct nod_battery){0};
	judge_charge(out, in);
	judge_capacity(out, in);
	judge_time(out, in);
	judge_drain(out, in);
	return 0;
}

static const char *const type_names[] = {"any", "flooded", "agm"};

const char *nod_battery_type_name(enum nod_battery_type type)
{
	return type_names[type];
}

int nod_battery_type_parse(enum nod_battery_type *type, const char *text)
{
	for (size_t i = 0; i < sizeof(type_names) / sizeof(type_names[0]); i++) {
		if (strcasecmp(text, type_names[i]))
			continue;
		*type = (enum nod_battery_type)i;
		return 0;
	}
	return -EINVAL;
}
