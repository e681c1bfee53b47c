/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "id-rule.h"

static void test_forms_parse_and_print(void **state)
{
	(void)state;
	static const struct {
		const char *text, *printed;
		uint32_t first, last, mask;
	} cases[] = {
		{"2A0", "2A0", 0x2A0, 0x2A0, 0},
		{"7", "007", 7, 7, 0},
		{"000002a0", "000002A0", 0x2A0 | NOD_ID_EXTENDED, 0x2A0 | NOD_ID_EXTENDED, 0},
		{"2A8-2AF", "2A8-2AF", 0x2A8, 0x2AF, 0},
		{"2A8 - 2AF", "2A8-2AF", 0x2A8, 0x2AF, 0},
		{"5-5", "005", 5, 5, 0},
		{"300/7F0", "300/7F0", 0x300, 0, 0x7F0},
		{"00000021 / 000000FF", "00000021/000000FF", 0x21 | NOD_ID_EXTENDED, 0, 0xFF},
	};
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct nod_id_rule rule = {.line = 5};
		struct nod_error err = {""};
		char text[NOD_ID_RULE_TEXT];
		assert_int_equal(nod_id_rule_parse(&rule, cases[i].text, &err), 0);
		assert_string_equal(err.text, "");
		assert_int_equal(rule.first, cases[i].first);
		assert_int_equal(rule.last, cases[i].last);
		assert_int_equal(rule.mask, cases[i].mask);
		assert_int_equal(rule.line, 5);
		assert_string_equal(nod_id_rule_print(text, &rule), cases[i].printed);
	}
}

static void test_what_is_no_rule_is_told(void **state)
{
	(void)state;
	static const struct {
		const char *text, *says;
	} cases[] = {
		{"", "1 to 3 hex digits"},
		{"2G0", "1 to 3 hex digits"},
		{"0x2A0", "1 to 3 hex digits"},
		{"800", "`800` is above 7FF"},
		{"20000000", "`20000000` is above 1FFFFFFF"},
		{"CFF0010", "has 7 digits, expected 1 to 3 (standard) or 8 (extended: `0CFF0010`)"},
		{"1234", "(extended: `00001234`)"},
		{"123456789", "exactly 8 (extended), found `123456789`"},
		{"2AF-2A0", "upside down, expected the smaller ID first"},
		{"2A0-000002AF", "mixes a standard and an extended ID"},
		{"2A0-2A8-2AF", "found `2A8-2AF`"},
		{"-2A0", "found ``"},
		{"2A0-", "found ``"},
		{"300/000007F0", "differ in kind"},
		{"300/000", "is zero"},
		{"30F/7F0", "bits outside its mask"},
	};
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct nod_id_rule rule = {0};
		struct nod_error err = {""};
		assert_int_equal(nod_id_rule_parse(&rule, cases[i].text, &err), -EINVAL);
		if (!strstr(err.text, cases[i].says))
			fail_msg("`%s`: \"%s\" lacks \"%s\"", cases[i].text, err.text,
				 cases[i].says);
	}
}

static void test_a_mask_with_low_bits_open_is_a_range(void **state)
{
	(void)state;
	struct nod_id_rule rule;
	uint32_t first, last;
	nod_id_rule_parse(&rule, "300/7F0", NULL);
	assert_true(nod_id_rule_is_range(&rule, &first, &last));
	assert_int_equal(first, 0x300);
	assert_int_equal(last, 0x30F);
	nod_id_rule_parse(&rule, "18FF0000/1FFF0000", NULL);
	assert_true(nod_id_rule_is_range(&rule, &first, &last));
	assert_int_equal(last, 0x18FFFFFF | NOD_ID_EXTENDED);
	nod_id_rule_parse(&rule, "00000021/000000FF", NULL);
	assert_false(nod_id_rule_is_range(&rule, &first, &last));
	nod_id_rule_parse(&rule, "101-103", NULL);
	assert_true(nod_id_rule_is_range(&rule, &first, &last));
	assert_int_equal(first, 0x101);
	assert_int_equal(last, 0x103);
}

static struct nod_id_rule range(uint32_t first, uint32_t last)
{
	return (struct nod_id_rule){first, last, 0, 0};
}

static struct nod_id_rule masked(uint32_t value, uint32_t mask)
{
	return (struct nod_id_rule){value, 0, mask, 0};
}

/* The overlap of every mask with ranges, against trying all standard IDs. */
static void test_overlap_is_exact(void **state)
{
	(void)state;
	uint32_t x = 12345;
	for (int n = 0; n < 3000; n++) {
		x = x * 1664525u + 1013904223u;
		uint32_t mask = (x >> 8 & 0x7FF) | 1, value = (x >> 19) & mask & 0x7FF;
		uint32_t first = (x >> 3) & 0x7FF, last = first + (x >> 27);
		struct nod_id_rule a = masked(value, mask),
				   b = range(first, last > 0x7FF ? 0x7FF : last);
		bool any = false;
		uint32_t id = 0;
		for (uint32_t i = b.first; i <= b.last; i++)
			any |= (i & mask) == value;
		assert_int_equal(nod_id_rules_overlap(&a, &b, &id), any);
		if (any) {
			assert_in_range(id, b.first, b.last);
			assert_int_equal(id & mask, value);
		}
	}
	uint32_t id;
	struct nod_id_rule p = masked(0x100, 0x700), q = masked(0x101, 0x00F);
	assert_true(nod_id_rules_overlap(&p, &q, &id));
	assert_int_equal(id, 0x101);
	struct nod_id_rule e = range(0x100 | NOD_ID_EXTENDED, 0x7FF | NOD_ID_EXTENDED);
	assert_false(nod_id_rules_overlap(&p, &e, &id));
}

/* The same for pairs of masks, and of extended IDs near the top. */
static void test_overlap_of_masks_is_exact(void **state)
{
	(void)state;
	uint32_t x = 99;
	for (int n = 0; n < 2000; n++) {
		x = x * 1664525u + 1013904223u;
		uint32_t m = (x >> 5 & 0x7FF) | 4, k = (x >> 16 & 0x7FF) | 8, id = 0;
		x = x * 1664525u + 1013904223u;
		struct nod_id_rule a = masked(x >> 4 & m, m), b = masked(x >> 15 & k, k);
		bool any = false;
		for (uint32_t i = 0; i <= 0x7FF; i++)
			any |= nod_id_rule_matches(&a, i) && nod_id_rule_matches(&b, i);
		assert_int_equal(nod_id_rules_overlap(&a, &b, &id), any);
		if (any)
			assert_true(nod_id_rule_matches(&a, id) && nod_id_rule_matches(&b, id));
	}
	uint32_t id, x8 = NOD_ID_EXTENDED;
	struct nod_id_rule top = masked(0x21 | x8, 0xFF);
	struct nod_id_rule below = range(0x1FFFFF22 | x8, 0x1FFFFFFF | x8);
	struct nod_id_rule at = range(0x1FFFFF00 | x8, 0x1FFFFFFF | x8);
	assert_false(nod_id_rules_overlap(&top, &below, &id));
	assert_true(nod_id_rules_overlap(&at, &top, &id));
	assert_int_equal(id, 0x1FFFFF21 | x8);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_forms_parse_and_print),
		cmocka_unit_test(test_what_is_no_rule_is_told),
		cmocka_unit_test(test_a_mask_with_low_bits_open_is_a_range),
		cmocka_unit_test(test_overlap_is_exact),
		cmocka_unit_test(test_overlap_of_masks_is_exact),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
