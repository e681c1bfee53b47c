/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "wall-time.h"

static int64_t seconds(const char *text, enum nod_date_order order, int zone)
{
	struct nod_wall_time wall;
	nod_time time;

	assert_int_equal(nod_wall_parse(&wall, text, true), 0);
	if (nod_wall_to_time(&time, &wall, order, zone))
		return -1;
	return time.ns / NOD_NS_PER_S;
}

/* 1700000000 is 2023-11-14 22:13:20 UTC (date -u -d @1700000000). */
static void test_the_same_moment_in_many_forms(void **state)
{
	(void)state;
	enum nod_date_order open = NOD_DATE_OPEN;

	assert_int_equal(seconds("2023-11-14T22:13:20Z", open, 99), 1700000000);
	assert_int_equal(seconds("2023-11-14 23:13:20+01:00", open, 99), 1700000000);
	assert_int_equal(seconds("2023-11-14 23:13:20 +0100", open, 99), 1700000000);
	assert_int_equal(seconds("2023/11/14 22:13:20.75", open, 0), 1700000000);
	assert_int_equal(seconds("14.11.2023 23:13:20", open, 60), 1700000000);
	assert_int_equal(seconds("14.11.23 23:13:20,5", open, 60), 1700000000);
	assert_int_equal(seconds("11/14/2023 10:13:20 PM", open, 0), 1700000000);
	assert_int_equal(seconds("14/11/2023 22:13:20", open, 0), 1700000000);
	assert_int_equal(seconds("2000-02-29 00:00:00", open, 0), 951782400);
	assert_int_equal(seconds("1970-01-01 00:00", open, 0), 0);
	assert_int_equal(seconds("5/6/2023 12:00:00 AM", NOD_DATE_DMY, 0), 1685923200);
	assert_int_equal(seconds("5/6/2023 12:00:00 AM", NOD_DATE_MDY, 0), 1683331200);
}

static void test_what_is_open_stays_open(void **state)
{
	(void)state;
	struct nod_wall_time wall;

	assert_int_equal(nod_wall_parse(&wall, "5/6/2023 12:00", false), 0);
	assert_true(wall.order == NOD_DATE_OPEN && !wall.has_zone);
	assert_int_equal(seconds("5/6/2023 12:00", NOD_DATE_OPEN, 0), -1);
	assert_int_equal(nod_wall_parse(&wall, "22:13:20.5", false), 0);
	assert_true(!wall.has_date && wall.has_time);
	assert_true(wall.of_day == 80000 * NOD_NS_PER_S + NOD_NS_PER_S / 2);
	assert_int_equal(seconds("22:13:20", NOD_DATE_YMD, 0), -1);
	assert_int_equal(nod_wall_parse(&wall, "2023-11-14", false), 0);
	assert_true(wall.has_date && !wall.has_time);
}

static void test_nonsense_is_refused(void **state)
{
	(void)state;
	static const char *const bad[] = {"",
					  "12",
					  "0.5",
					  "22:13:20,5",
					  "24:00:00",
					  "22:60",
					  "2023-11-14 25:00",
					  "1-2-3",
					  "2023-11-14 22:13:20 X",
					  "13:00 PM",
					  "12345-1-1",
					  "22:1:20",
					  "x22:13"};
	struct nod_wall_time wall;
	int zone;

	for (size_t i = 0; i < sizeof(bad) / sizeof(bad[0]); i++)
		assert_int_equal(nod_wall_parse(&wall, bad[i], false), -EINVAL);
	assert_int_equal(seconds("2023-02-29 00:00", NOD_DATE_OPEN, 0), -1);
	assert_int_equal(seconds("31.04.2023", NOD_DATE_OPEN, 0), -1);
	assert_int_equal(nod_zone_parse(&zone, "+15:00"), -EINVAL);
	assert_int_equal(nod_zone_parse(&zone, "01:00"), -EINVAL);
	assert_int_equal(nod_zone_parse(&zone, "+010"), -EINVAL);
	assert_int_equal(nod_zone_parse(&zone, "-0530"), 0);
	assert_int_equal(zone, -330);
}

static void test_print(void **state)
{
	(void)state;
	char buf[NOD_TIME_TEXT];

	assert_string_equal(nod_wall_print(buf, (nod_time){1700000000999999999}),
			    "2023-11-14 22:13:20 UTC");
	assert_string_equal(nod_wall_print(buf, (nod_time){-1}), "1969-12-31 23:59:59 UTC");
	assert_string_equal(
		nod_wall_print(buf, nod_time_after((nod_time){0}, nod_seconds(951782400))),
		"2000-02-29 00:00:00 UTC");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_the_same_moment_in_many_forms),
		cmocka_unit_test(test_what_is_open_stays_open),
		cmocka_unit_test(test_nonsense_is_refused),
		cmocka_unit_test(test_print),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
