/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "battery.h"

#define MILLION INT64_C(1000000)

static struct nod_battery judged(const struct nod_battery_input *in)
{
	struct nod_battery out;

	assert_int_equal(nod_battery_judge(&out, in, NULL), 0);
	return out;
}

/* Tenths of a day, rounded, as the published table has them. */
static int64_t tenths(int64_t seconds)
{
	return (seconds * 10 + 43200) / 86400;
}

static void test_flooded_table(void **state)
{
	(void)state;
	static const struct {
		int mv, percent;
	} bci[] = {{12650, 100}, {12450, 75}, {12240, 50}, {12060, 25}, {11890, 0}},
	  rest[] = {{12700, 100}, {12580, 90}, {12460, 80}, {12360, 70}, {12280, 60},
		    {12200, 50},  {12120, 40}, {12020, 30}, {11880, 20}, {11720, 10}};

	for (size_t i = 0; i < 5; i++) /* "Source: BCI", 80 F */
		assert_int_equal(nod_battery_charge(NOD_BATTERY_FLOODED, bci[i].mv * 1000).nominal,
				 bci[i].percent * 10000);
	for (size_t i = 0; i < 10; i++) { /* "at rest", 25 C: within the range */
		struct nod_ppm_range c = nod_battery_charge(NOD_BATTERY_FLOODED, rest[i].mv * 1000);
		assert_in_range(rest[i].percent * 10000, c.low, c.high);
	}
	/* Between two rows of the first: 0.1 V below full is 12.5 %. */
	assert_int_equal(nod_battery_charge(NOD_BATTERY_FLOODED, 12550000).nominal, 875000);
	assert_int_equal(nod_battery_charge(NOD_BATTERY_FLOODED, 13100000).nominal, MILLION);
}

static void test_ten_millivolts_are_a_little_more_than_a_percent(void **state)
{
	(void)state;
	/* Published rule of thumb: 0.01 V is about 1.2 %. */
	int64_t a = nod_battery_charge(NOD_BATTERY_FLOODED, 12450000).nominal;
	int64_t b = nod_battery_charge(NOD_BATTERY_FLOODED, 12440000).nominal;

	assert_in_range(a - b, 11000, 13000);
}

static void test_agm_is_a_range_that_holds_its_rows(void **state)
{
	(void)state;
	/* Owner's manual 0000836273: row, its lowest and highest voltage. */
	static const struct {
		int percent, from_mv, to_mv;
	} rows[] = {
		{100, 12800, 13200}, {75, 12600, 12800}, {50, 12300, 12600}, {25, 12000, 12300}};

	for (size_t i = 0; i < 4; i++)
		for (int mv = rows[i].from_mv; mv <= rows[i].to_mv; mv += 50) {
			struct nod_ppm_range c = nod_battery_charge(NOD_BATTERY_AGM, mv * 1000);
			assert_in_range(rows[i].percent * 10000, c.low, c.high);
			assert_true(c.low < c.high || c.low == MILLION);
		}
	/* Other published values for full: 12.7, 12.9, 13.0 V. */
	assert_int_equal(nod_battery_charge(NOD_BATTERY_AGM, 12700000).high, MILLION);
}

static void test_an_unknown_type_holds_both(void **state)
{
	(void)state;
	for (int mv = 11800; mv <= 13200; mv += 50) {
		struct nod_ppm_range any = nod_battery_charge(NOD_BATTERY_ANY, mv * 1000);
		for (enum nod_battery_type t = NOD_BATTERY_FLOODED; t <= NOD_BATTERY_AGM; t++) {
			struct nod_ppm_range c = nod_battery_charge(t, mv * 1000);
			assert_true(any.low <= c.low && any.high >= c.high);
		}
	}
}

static void test_temperature(void **state)
{
	(void)state;
	/* Published: 0.024 V per 10 F; add above 80 F, subtract below. */
	assert_true(llabs(nod_battery_compensated_uv(12450000, 32222222) - 12474000) <= 1);
	assert_true(llabs(nod_battery_compensated_uv(12450000, 21111111) - 12426000) <= 1);
	assert_int_equal(nod_battery_compensated_uv(12450000, NOD_BATTERY_TABLE_MICROCELSIUS),
			 12450000);
}

static void test_days_until_no_start_as_calculated_from_the_bulletin(void **state)
{
	(void)state;
	/* RC x 0.6 x 0.4 / I. */
	static const int ma[] = {25, 30, 50, 100, 250, 500};
	static const struct {
		int reserve, usable_mah, tenths[6];
	} rows[] = {
		{60, 14400, {240, 200, 120, 60, 24, 12}},
		{80, 19200, {320, 267, 160, 80, 32, 16}},
		{100, 24000, {400, 333, 200, 100, 40, 20}},
		{120, 28800, {480, 400, 240, 120, 48, 24}},
	};
	struct nod_battery_input in = nod_battery_input_unknown();

	for (size_t i = 0; i < 4; i++)
		for (size_t j = 0; j < 6; j++) {
			in.reserve_s = rows[i].reserve * 60;
			in.current_ua = ma[j] * 1000;
			struct nod_battery out = judged(&in);
			assert_true(out.time_known);
			assert_int_equal(out.usable.rule, rows[i].usable_mah * 1000);
			assert_int_equal(tenths(out.seconds.rule), rows[i].tenths[j]);
			assert_int_equal(out.seconds.best, out.seconds.rule);
			assert_true(out.seconds.worst < out.seconds.rule); /* self-discharge */
		}
}

static void test_no_start_stays_where_it_is_when_the_battery_is_not_full(void **state)
{
	(void)state;
	struct nod_battery_input in = nod_battery_input_unknown();

	/* 12.57 V is 90 % in the flooded table; RC 100: 54 - 36 = 18.0 Ah. */
	in.type = NOD_BATTERY_FLOODED;
	in.rest_uv = 12570000;
	in.reserve_s = 6000;
	in.current_ua = 50000;
	struct nod_battery out = judged(&in);
	assert_int_equal(out.charge.rule, 900000);
	assert_int_equal(out.usable.rule, 18 * MILLION);
	assert_int_equal(tenths(out.seconds.rule), 150);
	/* At 60 % and below nothing is left. */
	in.rest_uv = 12000000;
	out = judged(&in);
	assert_int_equal(out.usable.best, 0);
	assert_int_equal(out.seconds.best, 0);
	assert_true(out.recharge);
}

static void test_full_discharge_example(void **state)
{
	(void)state;
	/* Published: 120 W are 10 A, 55 Ah last 5.5 h. */
	struct nod_battery_input in = nod_battery_input_unknown();

	in.capacity_uah = 55 * MILLION;
	in.current_ua = 10 * MILLION;
	in.no_start_ppm = 0;
	in.self_discharge_ppm_per_day = 0;
	struct nod_battery out = judged(&in);
	assert_int_equal(out.seconds.rule, 5 * 3600 + 1800);
	assert_int_equal(out.seconds.worst, out.seconds.best);
}

static void test_worst_and_best_case_enclose_the_rule(void **state)
{
	(void)state;
	struct nod_battery_input in = nod_battery_input_unknown();

	in.type = NOD_BATTERY_FLOODED;
	in.rest_uv = 12550000;
	in.rest_uncertainty_uv = 20000;
	in.capacity_uah = 70 * MILLION;
	in.reserve_s = 7200; /* 120 min are 72 Ah by the rule */
	in.current_ua = 80000;
	in.current_uncertainty_ua = 10000;
	struct nod_battery out = judged(&in);
	assert_int_equal(out.capacity.worst, 70 * MILLION);
	assert_int_equal(out.capacity.rule, 72 * MILLION);
	assert_int_equal(out.capacity.best, 72 * MILLION);
	assert_true(out.charge.worst < out.charge.rule && out.charge.rule < out.charge.best);
	assert_true(out.seconds.worst < out.seconds.rule && out.seconds.rule < out.seconds.best);
	/* Worst: 12.53 V is 85 % by the one table; 17.5 Ah over 90 mA and 4 % a week of 70 Ah. */
	assert_int_equal(out.charge.worst, 850000);
	assert_int_equal(out.usable.worst, 17500000);
	assert_int_equal(out.seconds.worst, INT64_C(17500000) * 3600 / (90000 + 16665));
}

static void test_the_drain_is_compared_with_reserve_over_four(void **state)
{
	(void)state;
	struct nod_battery_input in = nod_battery_input_unknown();

	in.reserve_s = 6000; /* published: 100 minutes, 25 mA */
	struct nod_battery out = judged(&in);
	assert_int_equal(out.largest_drain_ua, 25000);
	assert_int_equal(out.drain, NOD_DRAIN_UNKNOWN);
	assert_false(out.time_known);
	in.current_uncertainty_ua = 5000;
	in.current_ua = 20000;
	assert_int_equal(judged(&in).drain, NOD_DRAIN_WITHIN);
	in.current_ua = 26000;
	assert_int_equal(judged(&in).drain, NOD_DRAIN_UNDECIDED);
	in.current_ua = 31000;
	assert_int_equal(judged(&in).drain, NOD_DRAIN_OVER);
}

static void test_rest_time(void **state)
{
	(void)state;
	struct nod_battery_input in = nod_battery_input_unknown();

	assert_false(judged(&in).rested);
	in.rested_s = 3600;
	assert_false(judged(&in).rested);
	in.rested_s = 4 * 3600;
	assert_true(judged(&in).rested);
}

static void test_no_drain_has_no_limit(void **state)
{
	(void)state;
	struct nod_battery_input in = nod_battery_input_unknown();

	in.capacity_uah = 70 * MILLION;
	in.current_ua = 5000;
	in.current_uncertainty_ua = 20000;
	struct nod_battery out = judged(&in);
	assert_int_equal(out.seconds.best, NOD_BATTERY_NO_LIMIT);
	assert_true(out.seconds.worst < out.seconds.rule);
}

static void test_what_is_no_resting_battery_is_refused(void **state)
{
	(void)state;
	struct nod_battery_input in = nod_battery_input_unknown();
	struct nod_battery out;
	struct nod_error err = {""};

	in.rest_uv = 14200000;
	assert_int_equal(nod_battery_judge(&out, &in, &err), -EINVAL);
	assert_non_null(strstr(err.text, "not at rest"));
	in.rest_uv = 6000000;
	assert_int_equal(nod_battery_judge(&out, &in, &err), -EINVAL);
	in = nod_battery_input_unknown();
	in.capacity_uah = INT64_MAX;
	assert_int_equal(nod_battery_judge(&out, &in, &err), -EINVAL);
	in = nod_battery_input_unknown();
	in.reserve_s = -1;
	assert_int_equal(nod_battery_judge(&out, &in, &err), -EINVAL);
	in = nod_battery_input_unknown();
	in.current_ua = -1;
	assert_int_equal(nod_battery_judge(&out, &in, &err), -EINVAL);
	in = nod_battery_input_unknown();
	in.no_start_ppm = 2 * MILLION;
	assert_int_equal(nod_battery_judge(&out, &in, &err), -EINVAL);
	in = nod_battery_input_unknown();
	in.temperature_microcelsius = 200 * MILLION;
	assert_int_equal(nod_battery_judge(&out, &in, &err), -EINVAL);
}

static void test_type_names(void **state)
{
	(void)state;
	enum nod_battery_type type;

	assert_int_equal(nod_battery_type_parse(&type, "AGM"), 0);
	assert_int_equal(type, NOD_BATTERY_AGM);
	assert_string_equal(nod_battery_type_name(type), "agm");
	assert_int_equal(nod_battery_type_parse(&type, "lithium"), -EINVAL);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_flooded_table),
		cmocka_unit_test(test_ten_millivolts_are_a_little_more_than_a_percent),
		cmocka_unit_test(test_agm_is_a_range_that_holds_its_rows),
		cmocka_unit_test(test_an_unknown_type_holds_both),
		cmocka_unit_test(test_temperature),
		cmocka_unit_test(test_days_until_no_start_as_calculated_from_the_bulletin),
		cmocka_unit_test(test_no_start_stays_where_it_is_when_the_battery_is_not_full),
		cmocka_unit_test(test_full_discharge_example),
		cmocka_unit_test(test_worst_and_best_case_enclose_the_rule),
		cmocka_unit_test(test_the_drain_is_compared_with_reserve_over_four),
		cmocka_unit_test(test_rest_time),
		cmocka_unit_test(test_no_drain_has_no_limit),
		cmocka_unit_test(test_what_is_no_resting_battery_is_refused),
		cmocka_unit_test(test_type_names),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
