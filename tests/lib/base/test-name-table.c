/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "name-table.h"

static void test_names_are_found_without_case(void **state)
{
	(void)state;
	static char names[5000][12];
	struct nod_name_table table = {0};
	assert_int_equal(nod_name_table_find(&table, "F1"), NOD_NAME_UNKNOWN);
	for (int i = 0; i < 5000; i++) {
		snprintf(names[i], sizeof(names[i]), "Fuse %d", i);
		assert_int_equal(nod_name_table_add(&table, names[i], i), 0);
	}
	assert_int_equal(nod_name_table_find(&table, "fUSE 4321"), 4321);
	assert_int_equal(nod_name_table_find(&table, "fuse 0"), 0);
	assert_int_equal(nod_name_table_find(&table, "fuse 5000"), NOD_NAME_UNKNOWN);
	assert_int_equal(nod_name_table_find(&table, ""), NOD_NAME_UNKNOWN);
	nod_name_table_clear(&table);
	assert_int_equal(nod_name_table_find(&table, "fuse 0"), NOD_NAME_UNKNOWN);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_names_are_found_without_case),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
