/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "quantity.h"

static int parse(struct nod_quantity *q, const char *text, enum nod_decimal_mark mark)
{
	struct nod_error err = {""};
	int rc = nod_quantity_parse(q, text, strlen(text), mark, &err);

	assert_int_equal(rc < 0, err.text[0] != '\0'); /* a message exactly when refused */
	return rc;
}

static void test_values_as_people_write_them(void **state)
{
	(void)state;
	static const struct {
		const char *text;
		int64_t micro, last_digit;
		enum nod_unit unit;
	} cases[] = {
		{"2.3 mV", 2300, 100, NOD_UNIT_VOLT},
		{"2.30mV", 2300, 10, NOD_UNIT_VOLT},
		{"0.0 mV", 0, 100, NOD_UNIT_VOLT},
		{"12,45 V", 12450000, 10000, NOD_UNIT_VOLT},
		{"0,430 A", 430000, 1000, NOD_UNIT_AMPERE},
		{"430mA", 430000, 1000, NOD_UNIT_AMPERE},
		{"-13 mA", -13000, 1000, NOD_UNIT_AMPERE},
		{"+4.30E-01 A", 430000, 1000, NOD_UNIT_AMPERE},
		{"12 \xc2\xb5"
		 "A",
		 12, 1, NOD_UNIT_AMPERE},
		{"60 ohm", 60000000, 1000000, NOD_UNIT_OHM},
		{"120 \xce\xa9", 120000000, 1000000, NOD_UNIT_OHM},
		{"7.4 m\xe2\x84\xa6", 7400, 100, NOD_UNIT_OHM},
		{"1 MOhm", INT64_C(1000000000000), INT64_C(1000000000000), NOD_UNIT_OHM},
		{"10 mV/A", 10000, 1000, NOD_UNIT_OHM},
		{"70 Ah", 70000000, 1000000, NOD_UNIT_AMPERE_HOUR},
		{"120\xc2\xa0min", INT64_C(7200000000), INT64_C(60000000), NOD_UNIT_SECOND},
		{"22%", 22000000, 1000000, NOD_UNIT_PERCENT},
		{"-5 \xc2\xb0"
		 "C",
		 -5000000, 1000000, NOD_UNIT_CELSIUS},
		{"  7 ", 7000000, 1000000, NOD_UNIT_NONE},
	};
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct nod_quantity q;
		assert_int_equal(parse(&q, cases[i].text, NOD_DECIMAL_ANY), 0);
		assert_int_equal(q.micro, cases[i].micro);
		assert_int_equal(q.last_digit, cases[i].last_digit);
		assert_int_equal(q.unit, cases[i].unit);
	}
}

static void test_digits_below_a_millionth_are_rounded(void **state)
{
	(void)state;
	struct nod_quantity q;

	assert_int_equal(parse(&q, "0.1234565 A", NOD_DECIMAL_ANY), 0);
	assert_int_equal(q.micro, 123457);
	assert_int_equal(q.last_digit, 1);
	assert_int_equal(parse(&q, "-0.00000049 A", NOD_DECIMAL_ANY), 0);
	assert_int_equal(q.micro, 0);
	assert_int_equal(parse(&q, "0.000000499999999 A", NOD_DECIMAL_ANY), 0);
	assert_int_equal(q.micro, 0);
}

static void test_an_ambiguous_comma_is_refused(void **state)
{
	(void)state;
	struct nod_quantity q;

	assert_int_equal(parse(&q, "1,234 V", NOD_DECIMAL_ANY), -EINVAL);
	assert_int_equal(parse(&q, "12,450 mV", NOD_DECIMAL_ANY), -EINVAL);
	assert_int_equal(parse(&q, "1,234.5 V", NOD_DECIMAL_ANY), 0); /* cannot be misread */
	assert_int_equal(q.micro, 1234500000);
	assert_int_equal(parse(&q, "-1.234.567,89 mA", NOD_DECIMAL_ANY), 0);
	assert_int_equal(q.micro, -1234567890);
	assert_int_equal(parse(&q, "1234,567.8 V", NOD_DECIMAL_ANY), -EINVAL);
	assert_int_equal(parse(&q, "1,23.4 V", NOD_DECIMAL_ANY), -EINVAL);
	assert_int_equal(parse(&q, "1.234,5 V", NOD_DECIMAL_ANY), 0);
	assert_int_equal(parse(&q, "1,234 V", NOD_DECIMAL_COMMA), 0);
	assert_int_equal(q.micro, 1234000);
	assert_int_equal(parse(&q, "1.234 V", NOD_DECIMAL_COMMA), -EINVAL);
	assert_int_equal(parse(&q, "1,23 V", NOD_DECIMAL_POINT), -EINVAL);
}

static void test_what_is_not_a_value_is_refused(void **state)
{
	(void)state;
	static const char *const bad[] = {
		"",      "mV",    "-",      ".5 V", "5. V",  "2.3 MV", "3 MA",  "2 volt",
		"1 2 V", "5 V x", "0x10 V", "1e V", "nan V", "inf",    "--1 V", "5 Vrandomtext"};
	struct nod_quantity q;

	for (size_t i = 0; i < sizeof(bad) / sizeof(bad[0]); i++)
		assert_int_equal(parse(&q, bad[i], NOD_DECIMAL_ANY), -EINVAL);
	assert_int_equal(parse(&q, "99999999999999 V", NOD_DECIMAL_ANY), -ERANGE);
	assert_int_equal(parse(&q, "1e31 V", NOD_DECIMAL_ANY), -ERANGE);
	assert_int_equal(parse(&q, "1e30 V", NOD_DECIMAL_ANY), -ERANGE);
	assert_int_equal(parse(&q, "1111111111111111111111 V", NOD_DECIMAL_ANY), -ERANGE);
	assert_int_equal(parse(&q, "0e30 V", NOD_DECIMAL_ANY), 0);
	assert_int_equal(q.micro, 0);
}

static void test_a_value_in_another_unit_is_refused_by_name(void **state)
{
	(void)state;
	struct nod_quantity q;
	struct nod_error err = {""};

	assert_int_equal(nod_quantity_parse_as(&q, "5 V", NOD_UNIT_AMPERE, "the clamp", &err),
			 -EINVAL);
	assert_string_equal(err.text, "the clamp: `5 V` is in another unit, expected a value such "
				      "as 430 mA");
	assert_int_equal(nod_quantity_parse_as(&q, "5", NOD_UNIT_VOLT, "F12", &err), -EINVAL);
	assert_string_equal(err.text, "F12: `5` is without a unit, expected a value such as 2.3 "
				      "mV");
	assert_int_equal(nod_quantity_parse_as(&q, "5 mA", NOD_UNIT_AMPERE, "the clamp", &err), 0);
	assert_int_equal(q.micro, 5000);
}

static void test_values_for_people(void **state)
{
	(void)state;
	static const struct {
		int64_t micro;
		enum nod_unit unit;
		const char *text;
	} cases[] = {
		{2300, NOD_UNIT_VOLT, "2.30 mV"},
		{430000, NOD_UNIT_AMPERE, "430 mA"},
		{1430000, NOD_UNIT_AMPERE, "1.43 A"},
		{0, NOD_UNIT_AMPERE, "0 A"},
		{-13000, NOD_UNIT_AMPERE, "-13.0 mA"},
		{999, NOD_UNIT_AMPERE, "999 uA"},
		{9999, NOD_UNIT_AMPERE, "10.0 mA"},
		{999600, NOD_UNIT_AMPERE, "1.00 A"},
		{999400, NOD_UNIT_AMPERE, "999 mA"},
		{60000000, NOD_UNIT_OHM, "60.0 ohm"},
		{INT64_MIN, NOD_UNIT_VOLT, "-9223372036855 V"},
	};
	char buf[NOD_QUANTITY_TEXT];

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++)
		assert_string_equal(nod_quantity_print(buf, cases[i].micro, cases[i].unit),
				    cases[i].text);
	assert_string_equal(nod_quantity_print_fixed(buf, 12445000, NOD_UNIT_VOLT, 2), "12.45 V");
	assert_string_equal(nod_quantity_print_fixed(buf, -400, NOD_UNIT_VOLT, 2), "0.00 V");
	assert_string_equal(nod_quantity_print_fixed(buf, 59500000, NOD_UNIT_OHM, 0), "60 ohm");
	assert_string_equal(nod_quantity_print_fixed(buf, 24040000, NOD_UNIT_NONE, 1), "24.0");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_values_as_people_write_them),
		cmocka_unit_test(test_digits_below_a_millionth_are_rounded),
		cmocka_unit_test(test_an_ambiguous_comma_is_refused),
		cmocka_unit_test(test_what_is_not_a_value_is_refused),
		cmocka_unit_test(test_a_value_in_another_unit_is_refused_by_name),
		cmocka_unit_test(test_values_for_people),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
