/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "frame.h"

static int parse(const char *text, uint32_t *id)
{
	return nod_id_parse(id, text, (unsigned)strlen(text));
}

/* The two forms of can-utils (lib.h): 3 digits standard, 8 digits extended. */
static void test_2a0_and_000002a0_are_different(void **state)
{
	(void)state;
	uint32_t standard, extended;
	assert_int_equal(parse("2A0", &standard), 0);
	assert_int_equal(parse("000002a0", &extended), 0);
	assert_int_equal(standard, 0x2A0);
	assert_int_equal(extended, 0x2A0 | NOD_ID_EXTENDED);
}

static void test_other_forms_are_refused(void **state)
{
	(void)state;
	uint32_t id;
	assert_int_equal(parse("", &id), -EINVAL);
	assert_int_equal(parse("12G", &id), -EINVAL);
	assert_int_equal(parse("1234", &id), -EINVAL);
	assert_int_equal(parse("123456789", &id), -EINVAL);
	assert_int_equal(parse("800", &id), -ERANGE);
	assert_int_equal(parse("20000000", &id), -ERANGE);
}

static void test_print_gives_back_what_was_parsed(void **state)
{
	(void)state;
	static const char *const ids[] = {"000", "7FF", "00000000", "1FFFFFFF", "18FEF121"};
	char buf[NOD_ID_TEXT];
	uint32_t id;
	for (size_t i = 0; i < sizeof(ids) / sizeof(ids[0]); i++) {
		assert_int_equal(parse(ids[i], &id), 0);
		assert_string_equal(nod_id_print(buf, id), ids[i]);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_2a0_and_000002a0_are_different),
		cmocka_unit_test(test_other_forms_are_refused),
		cmocka_unit_test(test_print_gives_back_what_was_parsed),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
