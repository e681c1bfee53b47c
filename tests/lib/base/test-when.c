/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "when.h"
#include "zone.h"

#define S NOD_NS_PER_S

static const struct nod_when_base base = {
	.lock = {1000 * S}, .start = {400 * S}, .end = {9000 * S}};

static void test_times(void **state)
{
	(void)state;
	/* The epoch seconds of the dates: `date -u -d DATE +%s` of GNU coreutils. */
	static const struct {
		const char *text;
		int64_t ns;
	} cases[] = {
		{"1700000000.5", 1700000000 * S + S / 2},
		{"303", 303 * S},
		{"2023-11-14T22:13:20Z", 1700000000 * S},
		{"2023-11-14 22:13:20.123456789z", 1700000000 * S + 123456789},
		{"2023-11-14T23:13+01:00", 1699999980 * S},
		{"2023-11-14T17:13:20-0500", 1700000000 * S},
		{"2023-11-15T00:13:20+02", 1700000000 * S},
		{"2024-02-29T00:00:00Z", 1709164800 * S},
		{"lock", 1000 * S},
		{"start", 400 * S},
		{"end", 9000 * S},
		{"+35 min", 3100 * S},
		{"-2 min", 880 * S},
		{" +2", 1002 * S},
		{"lock+12min", 1720 * S},
		{"start + 1 h 5 min", 4300 * S},
		{"end-30s", 8970 * S},
	};
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct nod_error err = {""};
		nod_time t = NOD_TIME_NONE;
		assert_int_equal(nod_when_parse(&t, cases[i].text, &base, &err), 0);
		assert_string_equal(err.text, "");
		assert_int_equal(t.ns, cases[i].ns);
	}
}

static void test_refusals(void **state)
{
	(void)state;
	/* clang-format off */
	static const char *const cases[] = {
		"", "12 min", "yesterday", "locked", "+", "+min", "lock 5 min", 
		"2023-11-14", "2023-02-30T00:00:00Z", "2023-11-14T24:30:00Z", "2023-11-14T22:13:20Q",
		"2023-11-14T22:13:20Zx", "2023-11-14T22:1320Z", "1e9",
		"14:61", "25:00", "ago", "2 moons ago", "2023-11-14 24:00",
	};
	/* clang-format on */
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct nod_error err = {""};
		nod_time t;
		assert_int_equal(nod_when_parse(&t, cases[i], &base, &err), -EINVAL);
		assert_non_null(strstr(err.text, "expected"));
	}
}

static void test_what_is_missing_is_named(void **state)
{
	(void)state;
	struct nod_error err;
	nod_time t;

	assert_int_equal(nod_when_parse(&t, "12:30", &base, &err), -EINVAL);
	assert_non_null(strstr(err.text, "does not tell the time of day"));
	assert_int_equal(nod_when_parse(&t, "12:30", NULL, &err), -EINVAL);
	assert_non_null(strstr(err.text, "say the date"));
	assert_int_equal(nod_when_parse(&t, "2 min ago", &base, &err), -EINVAL);
	assert_non_null(strstr(err.text, "a recording has no now"));
	assert_int_equal(nod_when_parse(&t, "now", &base, &err), -EINVAL);
	assert_int_equal(nod_when_parse(&t, "5/6/2023 22:13", &base, &err), -EINVAL);
	assert_non_null(strstr(err.text, "which is the day"));
	assert_int_equal(nod_when_parse(&t, "2023-11-14 22:13 Europe/Nowhere", &base, &err),
			 -EINVAL);
	assert_non_null(strstr(err.text, "no time zone `Europe/Nowhere`"));
	assert_int_equal(nod_when_parse(&t, "+1 min", NULL, &err), -EINVAL);
	assert_non_null(strstr(err.text, "lock time is not known"));
	assert_int_equal(nod_when_parse(&t, "end", NULL, &err), -EINVAL);
	assert_non_null(strstr(err.text, "end of the recording is not known"));
	assert_int_equal(nod_when_parse(&t, "9999-01-01T00:00:00Z", NULL, &err), -ERANGE);
	assert_int_equal(nod_when_parse(&t, "1700000000", NULL, &err), 0);
}

/* A recording of 22:00 to 22:30 UTC on 2023-11-14, 1699999200 by `date -u +%s`. */
static const struct nod_when_base evening = {
	.lock = {1699999200 * S}, .start = {1699999200 * S}, .end = {1700001000 * S}};

static void check(const char *text, const struct nod_when_base *b, int64_t seconds)
{
	struct nod_error err = {""};
	nod_time t = NOD_TIME_NONE;

	if (nod_when_parse(&t, text, b, &err))
		fail_msg("%s: %s", text, err.text);
	assert_int_equal(t.ns, seconds * S);
}

static void refused(const char *text, const struct nod_when_base *b, const char *why)
{
	struct nod_error err = {""};
	nod_time t;

	assert_int_equal(nod_when_parse(&t, text, b, &err), -EINVAL);
	assert_non_null(strstr(err.text, why));
}

/* Berlin is an hour east of UTC in November (POSIX rules of the zone: CET-1CEST,
 * M3.5.0,M10.5.0/3); so the tests need no tzdata. */
#define BERLIN "CET-1CEST,M3.5.0,M10.5.0/3"

static void test_the_clock_on_the_wall_of_a_recording(void **state)
{
	(void)state;
	setenv("TZ", BERLIN, 1);
	check("23:10", &evening, 1699999800);
	check("23:10:30.0", &evening, 1699999830);
	check("22:50", &evening, 1699999200 - 600);  /* before it: the nearest */
	check("00:10", &evening, 1700001000 + 2400); /* the next day */
	check("2023-11-14 23:00", &evening, 1699999200);
	check("14.11.2023 23:00", &evening, 1699999200);
	check("2023-11-14 22:00 UTC", &evening, 1699999200);
	check("2023-06-14 23:00", &evening, 1686776400); /* date -u -d '2023-06-14 21:00' +%s */
	struct nod_when_base days = evening;
	days.end.ns += 3 * 86400 * S;
	refused("23:10", &days, "comes 4 times");
	check("2023-11-16 23:10", &days, 1699999800 + 2 * 86400);
}

/* The clocks go back on 2023-10-29 and forward on 2023-03-26 in that zone. */
static void test_a_night_in_which_the_clocks_are_set(void **state)
{
	(void)state;
	setenv("TZ", BERLIN, 1);
	refused("2023-10-29 02:30", &evening, "twice");
	check("2023-10-29 02:30+02:00", &evening, 1698539400);
	check("2023-10-29 02:30+01:00", &evening, 1698543000);
	check("2023-10-29 03:00", &evening, 1698544800);
	refused("2023-03-26 02:30", &evening, "never");
	check("2023-03-26 03:00", &evening, 1679792400);
}

static void test_a_zone_by_its_name(void **state)
{
	(void)state;
	struct nod_when_base base_there = evening;
	char buf[NOD_WHEN_TEXT];

	setenv("TZ", "UTC", 1);
	if (!nod_zone_is_known("Europe/Berlin"))
		skip(); /* a machine without tzdata */
	check("2023-11-14 23:00 Europe/Berlin", &evening, 1699999200);
	check("23:10 Europe/Berlin", &evening, 1699999800);
	base_there.zone = "Asia/Kolkata";
	check("03:40", &base_there, 1699999800);
	assert_string_equal(nod_when_print(buf, evening.lock, "Asia/Kolkata"),
			    "2023-11-15 03:30:00+05:30");
	assert_string_equal(nod_when_print_clock(buf, evening.lock, "America/New_York"),
			    "17:00:00");
	assert_string_equal(getenv("TZ"), "UTC");
}

static void test_about_now(void **state)
{
	(void)state;
	struct nod_when_base live = {.lock = {1699999200 * S}, .now = {1700001000 * S}};

	setenv("TZ", BERLIN, 1);
	check("now", &live, 1700001000);
	check("2 min ago", &live, 1700000880);
	check("90s ago", &live, 1700000910);
	check("23:29:00", &live, 1700000940);
	check("23:31", &live, 1700001060 - 86400); /* it is 23:30: yesterday */
	check("+35 min", &live, 1699999200 + 2100);
}

static void test_printing(void **state)
{
	(void)state;
	char buf[NOD_WHEN_TEXT];

	setenv("TZ", "UTC", 1);
	assert_string_equal(nod_when_print_clock(buf, (nod_time){303 * S}, NULL), "");

	assert_string_equal(nod_when_print(buf, (nod_time){1700000000 * S + S / 2}, NULL),
			    "2023-11-14 22:13:20Z");
	assert_string_equal(nod_when_print(buf, (nod_time){303 * S + 4 * NOD_NS_PER_MS}, NULL),
			    "303.004 s");
	assert_string_equal(nod_when_print(buf, NOD_TIME_NONE, NULL), "not known");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_times),
		cmocka_unit_test(test_refusals),
		cmocka_unit_test(test_what_is_missing_is_named),
		cmocka_unit_test(test_the_clock_on_the_wall_of_a_recording),
		cmocka_unit_test(test_a_night_in_which_the_clocks_are_set),
		cmocka_unit_test(test_a_zone_by_its_name),
		cmocka_unit_test(test_about_now),
		cmocka_unit_test(test_printing),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
