/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "connector.h"

static void test_the_published_pin_table(void **state)
{
	(void)state;
	static const int makers[] = {1, 3, 8, 9, 11, 12, 13};
	int count = 0;

	for (size_t i = 0; i < sizeof(makers) / sizeof(makers[0]); i++)
		assert_true(nod_connector_pin_is_discretionary(makers[i]));
	for (int pin = 1; pin <= NOD_CONNECTOR_PINS; pin++) {
		assert_non_null(nod_connector_pin(pin));
		count += nod_connector_pin_is_discretionary(pin);
	}
	assert_int_equal(count, 7);
	assert_non_null(strstr(nod_connector_pin(NOD_PIN_CANH), "CANH"));
	assert_non_null(strstr(nod_connector_pin(NOD_PIN_CANL), "CANL"));
	assert_non_null(strstr(nod_connector_pin(NOD_PIN_BATTERY), "battery +"));
	assert_string_equal(nod_connector_pin(NOD_PIN_CHASSIS_GROUND), "chassis ground");
	assert_string_equal(nod_connector_pin(NOD_PIN_SIGNAL_GROUND), "signal ground");
	assert_string_equal(nod_connector_pin(7), "K line");
	assert_string_equal(nod_connector_pin(15), "L line");
}

static void test_there_are_sixteen_pins(void **state)
{
	(void)state;
	assert_null(nod_connector_pin(0));
	assert_null(nod_connector_pin(17));
	assert_false(nod_connector_pin_is_discretionary(0));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_the_published_pin_table),
		cmocka_unit_test(test_there_are_sixteen_pins),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
