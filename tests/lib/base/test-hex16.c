/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "hex16.h"

static void check(const char text[16], unsigned digits)
{
	struct nod_hex16 fast = nod_hex16(text), portable = nod_hex16_portable(text);

	assert_int_equal(fast.digits, digits);
	assert_int_equal(portable.digits, digits);
	for (unsigned i = 0; i < digits / 2; i++) {
		char two[3] = {text[2 * i], text[2 * i + 1], '\0'};
		unsigned byte = (unsigned)strtoul(two, NULL, 16);
		assert_int_equal(fast.bytes >> 8 * i & 0xFF, byte);
		assert_int_equal(portable.bytes >> 8 * i & 0xFF, byte);
	}
}

static void test_every_character_at_every_place(void **state)
{
	(void)state;
	for (unsigned at = 0; at < 16; at++)
		for (int c = 0; c < 256; c++) {
			char text[17] = "0123456789aBcDeF";
			text[at] = (char)c;
			bool digit = c && strchr("0123456789abcdefABCDEF", c);
			check(text, digit ? 16 : at);
		}
}

static void test_what_follows_the_first_other_character_is_ignored(void **state)
{
	(void)state;
	check("12#\xFF\x80\0GG........", 2);
	check("\n(17000000.00000", 0);
	check("0a1B\r\n(170000000", 4);
	check("0123456789ABCDE\n", 15);
}

static void test_the_first_newline_is_found(void **state)
{
	char text[64];

	(void)state;
	for (int at = 0; at < 40; at++) {
		memset(text, '#', sizeof(text));
		for (int i = at; i < 64; i += 5) /* and more behind it */
			text[i] = '\n';
		assert_ptr_equal(nod_near_newline(text), at < 32 ? text + at : NULL);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_every_character_at_every_place),
		cmocka_unit_test(test_what_follows_the_first_other_character_is_ignored),
		cmocka_unit_test(test_the_first_newline_is_found),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
