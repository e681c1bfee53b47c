/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "bitrate.h"

static void test_as_people_write_them(void **state)
{
	(void)state;
	static const struct {
		const char *text;
		uint64_t bitrate;
	} cases[] = {{"500000", 500000}, {"500k", 500000},       {"33.3k", 33300},
		     {"1M", 1000000},    {"500 kbit/s", 500000}, {"83333 bit/s", 83333}};

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		uint64_t bitrate = 0;
		assert_true(nod_bitrate_parse(&bitrate, cases[i].text));
		assert_int_equal(bitrate, cases[i].bitrate);
	}
}

static void test_what_is_none(void **state)
{
	(void)state;
	static const char *const cases[] = {"",     "k",      "0",  "5x", "500 kHz",
					    "-500", "1.2.3k", "5.", ".5k"};
	uint64_t bitrate;

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++)
		assert_false(nod_bitrate_parse(&bitrate, cases[i]));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_as_people_write_them),
		cmocka_unit_test(test_what_is_none),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
