/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "timestamp.h"

static nod_time parsed(const char *text)
{
	nod_time t = NOD_TIME_NONE;
	assert_int_equal(nod_time_parse(&t, text, strlen(text)), 0);
	return t;
}

static void test_times_are_parsed_as_integers(void **state)
{
	(void)state;
	assert_int_equal(parsed("1648583717.428998").ns, INT64_C(1648583717428998000));
	assert_int_equal(parsed("0000000001.000000001").ns, INT64_C(1000000001));
	assert_int_equal(parsed("-1.5").ns, INT64_C(-1500000000));
	assert_int_equal(parsed("9223372036.854775807").ns, INT64_MAX);
}

static void test_malformed_times_are_refused(void **state)
{
	(void)state;
	nod_time t;
	static const char *const bad[] = {"", "-", ".5", "1.", "1.0000000001", "1e3", " 1", "1 "};
	for (size_t i = 0; i < sizeof(bad) / sizeof(bad[0]); i++)
		assert_int_equal(nod_time_parse(&t, bad[i], strlen(bad[i])), -EINVAL);
	assert_int_equal(nod_time_parse(&t, "9223372037", 10), -ERANGE);
}

static void test_printing_keeps_order_and_digits(void **state)
{
	(void)state;
	char buf[NOD_TIME_TEXT];
	assert_string_equal(nod_time_print(buf, parsed("12.345678901"), 6), "12.345678");
	assert_string_equal(nod_time_print(buf, parsed("-0.5"), 3), "-0.500");
	assert_string_equal(nod_time_print(buf, parsed("-0.0001"), 3), "-0.001");
	assert_string_equal(nod_time_print(buf, parsed("7"), 0), "7");
}

static void test_durations_as_people_write_them(void **state)
{
	(void)state;
	static const struct {
		const char *text;
		int64_t ns;
	} good[] = {
		{"90 s", 90 * NOD_NS_PER_S},    {"250ms", 250 * NOD_NS_PER_MS},
		{"1.5 h", 5400 * NOD_NS_PER_S}, {"1 h 30 min", 5400 * NOD_NS_PER_S},
		{"2 d", 172800 * NOD_NS_PER_S}, {"12", 12 * NOD_NS_PER_S},
	};
	nod_duration d;
	for (size_t i = 0; i < sizeof(good) / sizeof(good[0]); i++) {
		assert_int_equal(nod_duration_parse(&d, good[i].text), 0);
		assert_int_equal(d.ns, good[i].ns);
	}
	assert_int_equal(nod_duration_parse(&d, ""), -EINVAL);
	assert_int_equal(nod_duration_parse(&d, "5 parsec"), -EINVAL);
	assert_int_equal(nod_duration_parse(&d, "min"), -EINVAL);
	assert_int_equal(nod_duration_parse(&d, "-5 s"), -EINVAL);
}

static void test_durations_for_people(void **state)
{
	(void)state;
	static const struct {
		int64_t ms;
		const char *text;
	} cases[] = {
		{350, "350 ms"},        {12400, "12.4 s"},       {59970, "1 min 00 s"},
		{354000, "5 min 54 s"}, {3900000, "1 h 05 min"}, {273600000, "3 d 4 h"},
		{-12400, "-12.4 s"},
	};
	char buf[NOD_TIME_TEXT];
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++)
		assert_string_equal(nod_duration_print(buf, nod_milliseconds(cases[i].ms)),
				    cases[i].text);
	assert_string_equal(nod_duration_print_seconds(buf, nod_milliseconds(353768), 3),
			    "353.768");
	assert_string_equal(nod_duration_print_seconds(buf, (nod_duration){-1500000000}, 0), "-2");
}

static void test_arithmetic_saturates(void **state)
{
	(void)state;
	nod_time late = {INT64_MAX - 1};
	assert_int_equal(nod_time_after(late, nod_seconds(5)).ns, INT64_MAX);
	assert_int_equal(nod_time_since(late, (nod_time){-5}).ns, INT64_MAX);
	assert_true(nod_time_is_set((nod_time){0}));
	assert_false(nod_time_is_set(NOD_TIME_NONE));
}

static void test_exact_durations_parse_back(void **state)
{
	(void)state;
	/* clang-format off */
	static const struct {
		int64_t ns;
		const char *text;
	} cases[] = {
		{0, "0 s"}, {1, "1 ns"}, {1500000000, "1500 ms"}, {90 * NOD_NS_PER_S, "90 s"},
		{600 * NOD_NS_PER_S, "10 min"}, {7200 * NOD_NS_PER_S, "2 h"},
		{7 * 86400 * NOD_NS_PER_S, "7 d"}, {20000, "20 us"},
	};
	/* clang-format on */
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		char buf[NOD_TIME_TEXT];
		nod_duration d = {cases[i].ns}, back;
		assert_string_equal(nod_duration_print_exact(buf, d), cases[i].text);
		assert_int_equal(nod_duration_parse(&back, buf), 0);
		assert_int_equal(back.ns, d.ns);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_times_are_parsed_as_integers),
		cmocka_unit_test(test_malformed_times_are_refused),
		cmocka_unit_test(test_printing_keeps_order_and_digits),
		cmocka_unit_test(test_durations_as_people_write_them),
		cmocka_unit_test(test_durations_for_people),
		cmocka_unit_test(test_arithmetic_saturates),
		cmocka_unit_test(test_exact_durations_parse_back),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
