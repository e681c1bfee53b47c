/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "paragraph.h"

static void assert_printed(const char *lead, const char *text, const char *expected)
{
	char *printed = NULL;
	size_t size;
	FILE *out = open_memstream(&printed, &size);

	assert_non_null(out);
	nod_paragraph_print(out, lead, text);
	fclose(out);
	assert_string_equal(printed, expected);
	free(printed);
}

static void test_lines_are_broken_at_blanks_and_indented(void **state)
{
	(void)state;
	assert_printed("", "", "\n");
	assert_printed("- ", "short", "- short\n");
	assert_printed("- ",
		       "aaaaaaaaaa bbbbbbbbbb cccccccccc dddddddddd eeeeeeeeee ffffffffff "
		       "gggggggggg hhhhhhhhhh",
		       "- aaaaaaaaaa bbbbbbbbbb cccccccccc dddddddddd eeeeeeeeee ffffffffff "
		       "gggggggggg\n  hhhhhhhhhh\n");
}

static void test_characters_are_counted_not_bytes(void **state)
{
	(void)state;
	char text[200] = "";

	for (int i = 0; i < 39; i++)
		strcat(text, "\xc3\xa4 "); /* 39 letters and blanks: 77 columns, 116 bytes */
	strcat(text, "x");
	char expected[220];
	snprintf(expected, sizeof(expected), "%.*s\nx\n", 39 * 3 - 1, text);
	assert_printed("", text, expected);
	assert_int_equal(nod_text_columns("gr\xc3\xbc\xc3\x9f"), 4);
}

static void test_a_long_word_stands_alone(void **state)
{
	(void)state;
	char word[101], text[120], expected[120];

	memset(word, 'w', 100);
	word[100] = '\0';
	snprintf(text, sizeof(text), "a %s b", word);
	snprintf(expected, sizeof(expected), "a\n%s\nb\n", word);
	assert_printed("", text, expected);
}

static void test_a_number_keeps_its_unit(void **state)
{
	(void)state;
	assert_printed("",
		       "aaaaaaaaaa bbbbbbbbbb cccccccccc dddddddddd eeeeeeeeee ffffffffff "
		       "ggggggg 20 % x",
		       "aaaaaaaaaa bbbbbbbbbb cccccccccc dddddddddd eeeeeeeeee ffffffffff "
		       "ggggggg 20 %\nx\n");
	assert_printed("",
		       "aaaaaaaaaa bbbbbbbbbb cccccccccc dddddddddd eeeeeeeeee ffffffffff "
		       "gggggggg 20 mA).",
		       "aaaaaaaaaa bbbbbbbbbb cccccccccc dddddddddd eeeeeeeeee ffffffffff "
		       "gggggggg\n20 mA).\n");
}

static void test_nothing_that_a_terminal_acts_on_goes_out(void **state)
{
	(void)state;
	assert_printed("",
		       "a\x1b[31mb \x07 c\x7f \xC2\x9b"
		       "1m \xC2\xB5"
		       "A",
		       "a?[31mb ? c? ?1m \xC2\xB5"
		       "A\n");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_lines_are_broken_at_blanks_and_indented),
		cmocka_unit_test(test_characters_are_counted_not_bytes),
		cmocka_unit_test(test_a_number_keeps_its_unit),
		cmocka_unit_test(test_a_long_word_stands_alone),
		cmocka_unit_test(test_nothing_that_a_terminal_acts_on_goes_out),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
