/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "plain-text.h"

/* Control characters: C0 and DEL (ISO/IEC 646), C1 (ISO/IEC 6429) as UTF-8 has them. */
static void test_control_characters_are_told(void **state)
{
	(void)state;
	assert_int_equal(nod_control_length("\x1B[31m"), 1);
	assert_int_equal(nod_control_length("\n"), 1);
	assert_int_equal(nod_control_length("\x7F"), 1);
	assert_int_equal(nod_control_length("\xC2\x9B"
					    "31m"),
			 2);
	assert_int_equal(nod_control_length("\xC2\xA0"), 0); /* a blank that does not break */
	assert_int_equal(nod_control_length("\xC2"), 0);
	assert_int_equal(nod_control_length(""), 0);
	assert_int_equal(nod_control_length("a"), 0);
}

static void test_each_byte_is_replaced(void **state)
{
	(void)state;
	char text[] = "F12\x1B[2J\t\xC2\x9Bm \xC3\xA4\n";

	nod_text_make_plain(text, '?');
	assert_string_equal(text, "F12?[2J???m \xC3\xA4?");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_control_characters_are_told),
		cmocka_unit_test(test_each_byte_is_replaced),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
