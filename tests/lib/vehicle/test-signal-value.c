/* SPDX-License-Identifier: MIT */
/* Bits to values. The vectors are worked out by hand from how the byte orders count:
 * little from bit 0 of byte 0 up, big from bit 7 of byte 0 down (as in the DBC form:
 * start 7 of 8 bits in big byte order is byte 0). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "signal-value.h"

static uint64_t raw_of(unsigned start, unsigned bits, bool big, const uint8_t *data, size_t length)
{
	struct nod_signal s = nod_signal_default();
	uint64_t raw = UINT64_C(0xDEAD);

	s.start = start;
	s.bits = bits;
	s.big_endian = big;
	assert_true(nod_signal_raw(&s, data, length, &raw));
	return raw;
}

static void test_little_byte_order(void **state)
{
	static const uint8_t d[] = {0x34, 0x12, 0x00, 0xA5, 0x20, 0xFF, 0xFF, 0x80};
	(void)state;
	assert_int_equal(raw_of(0, 16, false, d, 8), 0x1234);
	assert_int_equal(raw_of(4, 8, false, d, 8), 0x23);
	assert_int_equal(raw_of(37, 1, false, d, 8), 1); /* byte 4 bit 5 */
	assert_int_equal(raw_of(36, 1, false, d, 8), 0);
	assert_int_equal(raw_of(63, 1, false, d, 8), 1);
	assert_true(raw_of(0, 64, false, d, 8) == UINT64_C(0x80FFFF20A5001234));
}

static void test_big_byte_order(void **state)
{
	static const uint8_t d[] = {0x12, 0x34, 0x7F, 0xFF, 0x81, 0x00, 0x00, 0x01};
	(void)state;
	assert_int_equal(raw_of(7, 8, true, d, 8), 0x12);
	assert_int_equal(raw_of(7, 16, true, d, 8), 0x1234);
	assert_int_equal(raw_of(3, 8, true, d, 8), 0x23);
	assert_int_equal(raw_of(22, 15, true, d, 8),
			 0x7FFF); /* all but the highest bit of bytes 2, 3 */
	assert_int_equal(raw_of(23, 1, true, d, 8), 0);
	assert_int_equal(raw_of(0, 12, true, d, 8), 0x1A3 & 0x3FF); /* 0 0011 0100 011 */
	assert_true(raw_of(7, 64, true, d, 8) == UINT64_C(0x12347FFF81000001));
}

static void test_a_payload_that_ends_too_early(void **state)
{
	static const uint8_t d[8] = {0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF};
	struct nod_signal s = nod_signal_default();
	uint64_t raw;
	(void)state;
	s.start = 7;
	s.bits = 16;
	s.big_endian = true;
	assert_false(nod_signal_raw(&s, d, 1, &raw));
	assert_true(nod_signal_raw(&s, d, 2, &raw));
	s.big_endian = false;
	assert_false(nod_signal_raw(&s, d, 2, &raw)); /* bits 7 to 22 */
	assert_true(nod_signal_raw(&s, d, 3, &raw));
	assert_false(nod_signal_raw(&s, d, 0, &raw));
}

static const char *printed(const struct nod_signal *s, uint64_t raw)
{
	static char text[80];

	return nod_signal_print(text, sizeof(text), s, raw);
}

static void test_values(void **state)
{
	struct nod_signal_value table[] = {{-5, (char *)"a negative value"}, {1, (char *)"open"}};
	struct nod_signal s = nod_signal_default();
	(void)state;
	s.bits = 8;
	assert_string_equal(printed(&s, 0xFB), "251");
	s.type = NOD_SIGNAL_SIGNED;
	assert_string_equal(printed(&s, 0xFB), "-5");
	s.values = table;
	s.value_count = 2;
	assert_string_equal(printed(&s, 0xFB), "a negative value");
	assert_string_equal(printed(&s, 1), "open");
	s.value_count = 0;
	s.factor = 0.1;
	s.offset = -40;
	s.unit = (char *)"degC";
	assert_string_equal(printed(&s, 3), "-39.7 degC");
	s = nod_signal_default();
	s.bits = 64;
	assert_string_equal(printed(&s, UINT64_MAX), "18446744073709551615");
}

/* IEEE 754: 1.0 is 3F800000 and 3FF0000000000000, -2.5 is C0200000. */
static void test_floats(void **state)
{
	struct nod_signal s = nod_signal_default();
	(void)state;
	s.type = NOD_SIGNAL_FLOAT;
	s.bits = 32;
	assert_string_equal(printed(&s, 0x3F800000), "1");
	assert_string_equal(printed(&s, 0xC0200000), "-2.5");
	s.bits = 64;
	assert_string_equal(printed(&s, UINT64_C(0x3FF0000000000000)), "1");
}

static void test_what_selects(void **state)
{
	struct nod_signal_range two = {2, 2}, few = {0, 3};
	struct nod_signal signals[3] = {nod_signal_default(), nod_signal_default(),
					nod_signal_default()};
	struct nod_message m = {.signals = signals, .signal_count = 3};
	uint8_t data[8] = {2, 1, 0x55};
	(void)state;
	for (unsigned i = 0; i < 3; i++) {
		signals[i].start = 8 * i;
		signals[i].bits = 8;
	}
	signals[1].selector = 0;
	signals[1].selected = &two;
	signals[2].selector = 1;
	signals[2].selected = &few;
	signals[1].selected_count = signals[2].selected_count = 1;
	assert_true(nod_signal_present(&m, &signals[0], data, 8));
	assert_true(nod_signal_present(&m, &signals[1], data, 8));
	assert_true(nod_signal_present(&m, &signals[2], data, 8));
	data[1] = 4;
	assert_false(nod_signal_present(&m, &signals[2], data, 8));
	data[1] = 1;
	data[0] = 1;
	assert_false(nod_signal_present(&m, &signals[1], data, 8));
	assert_false(nod_signal_present(&m, &signals[2], data, 8)); /* its selector is not there */
}

static void test_masks(void **state)
{
	struct nod_signal s = nod_signal_default();
	(void)state;
	s.start = 37;
	assert_true(nod_signal_mask(&s) == UINT64_C(1) << 37);
	s.start = 3;
	s.bits = 8;
	s.big_endian = true;
	assert_true(nod_signal_mask(&s) == 0xF00F); /* low half of byte 0, high half of byte 1 */
	s.start = 60;
	s.big_endian = false;
	assert_true(nod_signal_mask(&s) == UINT64_C(0xF) << 60);
}

static void test_numbers(void **state)
{
	char text[NOD_NUMBER_TEXT];
	double n;
	(void)state;
	assert_true(nod_number_parse(&n, "0.01") && n == 0.01);
	assert_string_equal(nod_number_print(text, n), "0.01");
	assert_true(nod_number_parse(&n, "-1.5E-05") && n == -1.5e-5);
	assert_string_equal(nod_number_print(text, 1.0 / 3), "0.3333333333333333");
	assert_true(nod_number_parse(&n, text) && n == 1.0 / 3);
	static const char *const bad[] = {"",    "x",     "1e", "1.2.3", "0x10", "nan",
					  "inf", "1e999", "-",  ".",     "1 "};
	for (size_t i = 0; i < sizeof(bad) / sizeof(*bad); i++)
		assert_false(nod_number_parse(&n, bad[i]));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_little_byte_order),
		cmocka_unit_test(test_big_byte_order),
		cmocka_unit_test(test_a_payload_that_ends_too_early),
		cmocka_unit_test(test_values),
		cmocka_unit_test(test_floats),
		cmocka_unit_test(test_what_selects),
		cmocka_unit_test(test_masks),
		cmocka_unit_test(test_numbers),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
