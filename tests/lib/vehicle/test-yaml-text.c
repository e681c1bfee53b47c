/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "yaml-text.h"

static void test_text_is_quoted_where_it_must_be(void **state)
{
	(void)state;
	static const struct {
		const char *text, *written;
	} cases[] = {
		{"door module left", "door module left"},
		{"F12", "F12"},
		{"2A8-2AF", "2A8-2AF"},
		{"", "\"\""},
		{"-1", "\"-1\""},
		{" x", "\" x\""},
		{"x ", "\"x \""},
		{"a: b", "\"a: b\""},
		{"a #1", "\"a #1\""},
		{"a, b", "\"a, b\""},
		{"say \"\\\"", "\"say \\\"\\\\\\\"\""},
		{"m\u03A9", "\"m\u03A9\""},
	};
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		char *text = NULL;
		size_t size;
		FILE *out = open_memstream(&text, &size);
		nod_yaml_write(out, cases[i].text);
		fclose(out);
		assert_string_equal(text, cases[i].written);
		free(text);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_text_is_quoted_where_it_must_be),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
