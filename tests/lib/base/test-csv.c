/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "csv.h"

static void assert_row(const char *line, char separator, unsigned count, const char *const *fields,
		       const unsigned *columns)
{
	char copy[200];
	struct nod_csv_row row;

	strcpy(copy, line);
	assert_int_equal(nod_csv_split(&row, copy, separator), 0);
	assert_int_equal(row.count, count);
	for (unsigned i = 0; i < count; i++) {
		assert_string_equal(row.field[i].text, fields[i]);
		if (columns)
			assert_int_equal(row.field[i].column, columns[i]);
	}
}

static void test_split(void **state)
{
	(void)state;
	assert_row("a; b ;c", ';', 3, (const char *[]){"a", "b", "c"}, (unsigned[]){1, 4, 7});
	assert_row("a\t\tc ", '\t', 3, (const char *[]){"a", "", "c"}, NULL);
	assert_row("  1  2\t3 ", ' ', 3, (const char *[]){"1", "2", "3"}, (unsigned[]){3, 6, 8});
	assert_row("\"a;b\";\"say \"\"hi\"\"\";", ';', 3, (const char *[]){"a;b", "say \"hi\"", ""},
		   NULL);
	assert_row("\"open;b", ';', 1, (const char *[]){"open;b"}, NULL);
	assert_row("1,5 A", 0, 1, (const char *[]){"1,5 A"}, NULL);
	assert_row("", ';', 1, (const char *[]){""}, NULL);
	assert_row("", ' ', 0, NULL, NULL);
}

static void test_too_many_fields(void **state)
{
	(void)state;
	char line[200];
	struct nod_csv_row row;

	memset(line, ',', 100);
	line[100] = '\0';
	assert_int_equal(nod_csv_split(&row, line, ','), -E2BIG);
	assert_int_equal(row.count, NOD_CSV_FIELDS);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_split),
		cmocka_unit_test(test_too_many_fields),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
