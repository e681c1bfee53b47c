/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "fuse.h"

static struct nod_fuse_current measured(const char *family, int64_t rating_ma, int64_t uv,
					int64_t uncertainty_uv)
{
	struct nod_fuse_resistance r;
	struct nod_fuse_current c;

	assert_int_equal(nod_fuse_resistance_find(&r, "F1", family, rating_ma, NULL), 0);
	assert_int_equal(nod_fuse_current(&c, uv, uncertainty_uv, &r, NULL), 0);
	return c;
}

/* Within half of the last digit the source prints. */
static void assert_near(int64_t value, int64_t expected, int64_t tolerance)
{
	assert_in_range(value, expected - tolerance, expected + tolerance);
}

static void test_published_worked_examples(void **state)
{
	(void)state;
	/* Training page "Voltage drop over fuses": red 10 A, 1 mV, 130 mA. */
	assert_near(measured("ato", 10000, 1000, 100).ua, 130000, 500);
	/* MACS Service Reports, June 2017, p. 6: blue mini 15 A. */
	assert_near(measured("mini", 15000, 100, 100).ua, 22000, 500);
	assert_near(measured("mini", 15000, 1000, 100).ua, 218000, 500);
}

static void test_division_at_the_table_values(void **state)
{
	(void)state;
	/* Calculated from the table: 1/7.70, 0.1/4.58, 1.0/4.58, 1.0/17.85, 0.1/1.97. */
	assert_int_equal(measured("ATOF", 10000, 1000, 0).ua, 129870);
	assert_int_equal(measured("Mini", 15000, 100, 0).ua, 21834);
	assert_int_equal(measured("F", 15000, 1000, 0).ua, 218341);
	assert_int_equal(measured("ato", 5000, 1000, 0).ua, 56022);
	assert_int_equal(measured("ato", 30000, 100, 0).ua, 50761);
}

static void test_zero_on_the_meter_is_not_zero_amps(void **state)
{
	(void)state;
	struct nod_fuse_current c = measured("ato", 30000, 0, 100);

	/* Calculated: one count of a 0.1 mV meter by 1.97 mOhm, which is from memory (fuse.c). */
	assert_near(c.count_ua, 51000, 500);
	assert_int_equal(c.state, NOD_FUSE_NONE_SEEN);
	assert_int_equal(c.ua, 0);
	assert_int_equal(c.low_ua, 0);
	assert_int_equal(c.high_ua, 56402); /* 0.1 mV / (0.9 x 1.97 mOhm), rounded up */
	assert_int_equal(measured("ato", 30000, 0, 10).high_ua, 5641);
}

static void test_the_interval_holds_meter_and_fuse_spread(void **state)
{
	(void)state;
	struct nod_fuse_current c = measured("mini", 10000, 2300, 100);

	assert_int_equal(c.state, NOD_FUSE_CARRIES);
	assert_int_equal(c.low_ua, 269541);  /* 2.2 mV / (1.1 x 7.42 mOhm) */
	assert_int_equal(c.high_ua, 359390); /* 2.4 mV / (0.9 x 7.42 mOhm) */
	c = measured("mini", 10000, 100, 100);
	assert_int_equal(c.state, NOD_FUSE_MAY_CARRY);
	assert_int_equal(c.low_ua, 0);
	c = measured("mini", 10000, -2300, 100); /* probes the other way round */
	assert_int_equal(c.low_ua, 269541);
}

static void test_each_value_says_where_it_is_from(void **state)
{
	(void)state;
	assert_int_equal(measured("ato", 10000, 0, 0).resistance.basis, NOD_FUSE_PUBLISHED);
	assert_int_equal(measured("mini", 15000, 0, 0).resistance.basis, NOD_FUSE_PUBLISHED);
	assert_int_equal(measured("mini", 10000, 0, 0).resistance.basis, NOD_FUSE_MEMORY);
	assert_int_equal(measured("maxi", 50000, 0, 0).resistance.basis, NOD_FUSE_MEMORY);
}

static void test_the_vehicle_files_own_value_wins(void **state)
{
	(void)state;
	char name[] = "F12", family[] = "mini";
	struct nod_fuse fuse = {
		.name = name, .family = family, .rating_ma = 10000, .resistance_uohm = 8000};
	struct nod_fuse_resistance r;
	struct nod_fuse_current c;

	assert_int_equal(nod_fuse_resistance_of(&r, &fuse, NULL), 0);
	assert_int_equal(r.uohm, 8000);
	assert_int_equal(r.basis, NOD_FUSE_OWN);
	assert_int_equal(nod_fuse_current(&c, 2400, 0, &r, NULL), 0);
	assert_int_equal(c.low_ua, 300000);
	assert_int_equal(c.high_ua, 300000);
	fuse.resistance_uohm = 0;
	assert_int_equal(nod_fuse_resistance_of(&r, &fuse, NULL), 0);
	assert_int_equal(r.uohm, 7420);
}

static void test_what_is_unknown_is_refused_with_what_is_needed(void **state)
{
	(void)state;
	struct nod_fuse_resistance r;
	struct nod_error err = {""};

	assert_int_equal(nod_fuse_resistance_find(&r, "F7", "micro2", 10000, &err), -ENOENT);
	assert_non_null(strstr(err.text, "F7: no resistance is known for a micro2 fuse of 10 A;"));
	assert_non_null(strstr(err.text, "data sheet"));
	assert_int_equal(nod_fuse_resistance_find(&r, "F7", "jcase", 7500, &err), -ENOENT);
	assert_non_null(strstr(err.text, "of 7.5 A"));
	assert_int_equal(nod_fuse_resistance_find(&r, "F7", "mini", 5000, &err), -ENOENT);
	assert_int_equal(nod_fuse_resistance_find(&r, "F7", NULL, 10000, &err), -ENOENT);
	assert_non_null(strstr(err.text, "family is not known"));
	assert_int_equal(nod_fuse_resistance_find(&r, "F7", "mini", 0, &err), -ENOENT);
	assert_non_null(strstr(err.text, "rating is not known"));
	assert_int_equal(nod_fuse_resistance_find(&r, "F7", NULL, 0, &err), -ENOENT);
	assert_non_null(strstr(err.text, "family and rating are not known"));
}

static void test_a_blown_fuse_is_not_turned_into_amps(void **state)
{
	(void)state;
	struct nod_fuse_resistance r = {7700, 10, NOD_FUSE_PUBLISHED};
	struct nod_fuse_current c;
	struct nod_error err = {""};

	assert_int_equal(nod_fuse_current(&c, 12400000, 100, &r, &err), -ERANGE);
	assert_non_null(strstr(err.text, "blown"));
	assert_int_equal(nod_fuse_current(&c, INT64_MIN, 100, &r, &err), -ERANGE);
	r.uohm = 0;
	assert_int_equal(nod_fuse_current(&c, 100, 100, &r, &err), -EINVAL);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_published_worked_examples),
		cmocka_unit_test(test_division_at_the_table_values),
		cmocka_unit_test(test_zero_on_the_meter_is_not_zero_amps),
		cmocka_unit_test(test_the_interval_holds_meter_and_fuse_spread),
		cmocka_unit_test(test_each_value_says_where_it_is_from),
		cmocka_unit_test(test_the_vehicle_files_own_value_wins),
		cmocka_unit_test(test_what_is_unknown_is_refused_with_what_is_needed),
		cmocka_unit_test(test_a_blown_fuse_is_not_turned_into_amps),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
