/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "frame.h"
#include "id-table.h"

static void test_an_empty_table_knows_nothing(void **state)
{
	(void)state;
	struct nod_id_table table = {0};

	assert_int_equal(nod_id_table_find(&table, 0, 0), 0);
	nod_id_table_free(&table);
}

/* The same ID on another interface, and the same number as a 29-bit ID, are others. */
static void test_interface_and_form_tell_apart(void **state)
{
	(void)state;
	struct nod_id_table table = {0};

	assert_int_equal(nod_id_table_add(&table, 0, 0x123, 1), 0);
	assert_int_equal(nod_id_table_add(&table, 1, 0x123, 2), 0);
	assert_int_equal(nod_id_table_add(&table, 0, NOD_ID_EXTENDED | 0x123, 3), 0);
	assert_int_equal(nod_id_table_find(&table, 0, 0x123), 1);
	assert_int_equal(nod_id_table_find(&table, 1, 0x123), 2);
	assert_int_equal(nod_id_table_find(&table, 0, NOD_ID_EXTENDED | 0x123), 3);
	assert_int_equal(nod_id_table_find(&table, 2, 0x123), 0);
	nod_id_table_free(&table);
	assert_int_equal(nod_id_table_find(&table, 0, 0x123), 0);
}

static void test_all_are_found_as_it_grows(void **state)
{
	(void)state;
	struct nod_id_table table = {0};
	enum { IDS = 5000 };

	for (uint32_t i = 0; i < IDS; i++) {
		assert_int_equal(nod_id_table_find(&table, (uint8_t)(i % 3), i * 8), 0);
		assert_int_equal(nod_id_table_add(&table, (uint8_t)(i % 3), i * 8, i + 1), 0);
	}
	for (uint32_t i = 0; i < IDS; i++)
		assert_int_equal(nod_id_table_find(&table, (uint8_t)(i % 3), i * 8), i + 1);
	assert_int_equal(table.used, IDS);
	assert_true(table.room >= 2 * table.used && !(table.room & (table.room - 1)));
	nod_id_table_free(&table);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_an_empty_table_knows_nothing),
		cmocka_unit_test(test_interface_and_form_tell_apart),
		cmocka_unit_test(test_all_are_found_as_it_grows),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
