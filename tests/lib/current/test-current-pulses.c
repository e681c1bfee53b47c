/* SPDX-License-Identifier: MIT */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "current-pulses.h"

static struct nod_current_pulse pulse(double from_s, double length_s, double height_ma)
{
	return (struct nod_current_pulse){
		.from = {(int64_t)(from_s * 1e9)},
		.to = {(int64_t)((from_s + length_s) * 1e9)},
		.height_ua = height_ma * 1000,
		.charge_uah = height_ma * 1000 * length_s / 3600,
	};
}

static void test_kinds_are_kept_apart(void **state)
{
	(void)state;
	struct nod_current_pulse_group groups[NOD_PULSE_GROUPS];
	struct nod_current_pulse p[14];
	size_t n = 0;

	for (int i = 0; i < 8; i++) { /* reports, one of them missed */
		if (i != 4)
			p[n++] = pulse(570 * i, 45, i % 2 ? 90 : 200);
		if (i == 2 || i == 5) /* wake-ups of amps */
			p[n++] = pulse(570 * i + 200, 100, 2000);
	}
	p[n++] = pulse(4500, 10, -20); /* a dip */
	assert_int_equal(nod_pulses_group(groups, p, n, NOD_TIME_NONE, 4560, nod_seconds(1)), 2);
	assert_int_equal(groups[0].count, 2); /* the wake-ups add more */
	assert_false(groups[0].periodic);
	assert_false(groups[0].telemetry_like);
	assert_true(fabs(groups[0].average_ua - 2000e3 * 200 / 4560) < 1);
	assert_int_equal(groups[1].count, 7);
	assert_true(groups[1].periodic && groups[1].telemetry_like);
	assert_int_equal(groups[1].period.ns, 570 * NOD_NS_PER_S);
	assert_int_equal(p[0].group, 1);
	assert_int_equal(p[3].group, 0);
	assert_int_equal(p[n - 1].group, -1);
}

static void test_what_has_no_period_is_not_given_one(void **state)
{
	(void)state;
	static const double at[] = {0, 100, 900, 1300, 2900, 3000, 4200, 4900, 7000};
	struct nod_current_pulse_group groups[NOD_PULSE_GROUPS];
	struct nod_current_pulse p[9];

	for (int i = 0; i < 9; i++)
		p[i] = pulse(at[i], 45, 150);
	assert_int_equal(nod_pulses_group(groups, p, 9, NOD_TIME_NONE, 7200, nod_seconds(1)), 1);
	assert_false(groups[0].periodic);
	assert_int_equal(groups[0].period.ns, INT64_MIN);
	/* too few for a period */
	assert_int_equal(nod_pulses_group(groups, p, 3, NOD_TIME_NONE, 7200, nod_seconds(1)), 1);
	assert_false(groups[0].periodic);
	/* those before the lock belong to no group */
	assert_int_equal(nod_pulses_group(groups, p, 9, (nod_time){4000 * NOD_NS_PER_S}, 7200,
					  nod_seconds(1)),
			 1);
	assert_int_equal(groups[0].count, 3);
	assert_int_equal(nod_pulses_group(groups, p, 0, NOD_TIME_NONE, 0, nod_seconds(1)), 0);
}

static void test_more_kinds_than_are_kept(void **state)
{
	(void)state;
	struct nod_current_pulse_group groups[NOD_PULSE_GROUPS];
	struct nod_current_pulse p[NOD_PULSE_GROUPS + 3];

	for (int i = 0; i < NOD_PULSE_GROUPS + 3; i++)
		p[i] = pulse(i, 1, pow(3, i));
	assert_int_equal(nod_pulses_group(groups, p, NOD_PULSE_GROUPS + 3, NOD_TIME_NONE, 100,
					  nod_seconds(1)),
			 NOD_PULSE_GROUPS);
	assert_int_equal(p[NOD_PULSE_GROUPS].group, -1);
	assert_true(groups[0].height_ua > groups[1].height_ua);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_kinds_are_kept_apart),
		cmocka_unit_test(test_what_has_no_period_is_not_given_one),
		cmocka_unit_test(test_more_kinds_than_are_kept),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
