/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "utf8.h"

/* RFC 3629, section 3 and 4: what is well-formed. */
static void test_what_is_utf8(void **state)
{
	static const char *const good[] = {"",
					   "A",
					   "\xC2\x80",
					   "\xDF\xBF",
					   "\xE0\xA0\x80",
					   "\xED\x9F\xBF",
					   "\xEE\x80\x80",
					   "\xF0\x90\x80\x80",
					   "\xF4\x8F\xBF\xBF"};
	static const char *const bad[] = {"\x80",
					  "\xC1\xBF",
					  "\xC2",
					  "\xC2\x41",
					  "\xE0\x9F\xBF",
					  "\xED\xA0\x80",
					  "\xF0\x8F\xBF\xBF",
					  "\xF4\x90\x80\x80",
					  "\xF5\x80\x80\x80",
					  "\xE2\x82",
					  "\xFF"};
	(void)state;
	for (size_t i = 0; i < sizeof(good) / sizeof(*good); i++)
		assert_true(nod_utf8_is(good[i], strlen(good[i])));
	for (size_t i = 0; i < sizeof(bad) / sizeof(*bad); i++)
		assert_false(nod_utf8_is(bad[i], strlen(bad[i])));
}

static void becomes(const char *text, const char *expected)
{
	size_t size;
	char *out = nod_utf8_from(text, strlen(text), &size);

	assert_non_null(out);
	assert_string_equal(out, expected);
	assert_int_equal(size, strlen(expected));
	free(out);
}

static void test_what_becomes_of_text(void **state)
{
	(void)state;
	becomes("", "");
	becomes("\xEF\xBB\xBF"
		"a",
		"a");
	becomes("\xC3\xA4", "\xC3\xA4");
	becomes("\xE4", "\xC3\xA4");
	becomes("\x80\xFF", "\xE2\x82\xAC\xC3\xBF");
	becomes("\x81", "\xEF\xBF\xBD");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_what_is_utf8),
		cmocka_unit_test(test_what_becomes_of_text),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
