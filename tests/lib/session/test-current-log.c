/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "current-log.h"

static void test_lines(void **state)
{
	(void)state;
	static const struct {
		const char *line;
		int result;
		unsigned column;
		int64_t ns, microamps;
	} cases[] = {
		{"(5.000000) 0.430000 A", 1, 0, 5 * NOD_NS_PER_S, 430000},
		{"  (5.5) -13 mA \r", 1, 0, 5500 * NOD_NS_PER_MS, -13000},
		{"(5.000000001)\t0 A", 1, 0, 5 * NOD_NS_PER_S + 1, 0},
		{"", 0, 0, 0, 0},
		{"# comment", 0, 0, 0, 0},
		{"5.0 0.4 A", -EINVAL, 1, 0, 0},
		{"(5.0)0.4 A", -EINVAL, 6, 0, 0},
		{"(5.0) 0.4", -EINVAL, 7, 0, 0},
		{"(5.0) 0.4 V", -EINVAL, 7, 0, 0},
		{"(5.0) 0,4 A", -EINVAL, 7, 0, 0},
		{"(5.0) ", -EINVAL, 6, 0, 0},
		{"(5.0) 1000000 A", 1, 0, 5000000000, 1000000000000},
		{"(5.0) 1000000.1 A", -EINVAL, 7, 0, 0},
		{"(5.0) -1e15 mA", -EINVAL, 7, 0, 0},
	};
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct nod_error err = {""};
		nod_time time = {0};
		int64_t microamps = 0;
		unsigned column = 0;
		assert_int_equal(nod_current_parse(&time, &microamps, cases[i].line, &column, &err),
				 cases[i].result);
		assert_int_equal(column, cases[i].column);
		assert_int_equal(time.ns * (cases[i].result > 0), cases[i].ns);
		assert_int_equal(microamps, cases[i].microamps);
		assert_int_equal(err.text[0] != 0, cases[i].result < 0);
	}
}

static void test_printing(void **state)
{
	(void)state;
	char buf[NOD_CURRENT_LINE];

	nod_current_print(buf, (nod_time){5 * NOD_NS_PER_S}, -13000);
	assert_string_equal(buf, "(5.000000) -0.013000 A\n");
	nod_current_print(buf, (nod_time){INT64_MAX}, INT64_MIN);
	assert_string_equal(buf, "(9223372036.854775807) -9223372036854.775808 A\n");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_lines),
		cmocka_unit_test(test_printing),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
