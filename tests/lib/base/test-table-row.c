/* SPDX-License-Identifier: MIT */
/* Rows of tables. */
#include <fcntl.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#include <cmocka.h>

#include "table-row.h"

static void prints(const struct nod_cell *cells, size_t count, const char *expected)
{
	char *text;
	size_t size;
	FILE *out = open_memstream(&text, &size);

	nod_row_print(out, cells, count);
	fclose(out);
	assert_string_equal(text, expected);
	free(text);
}

static void test_left_and_right(void **state)
{
	const struct nod_cell cells[] = {{6, "body"}, {-5, "1.5"}, {4, "x"}};
	(void)state;
	prints(cells, 3, "  body     1.5 x\n");
}

static void test_no_blanks_at_the_end(void **state)
{
	const struct nod_cell cells[] = {{6, "body"}, {-5, ""}, {4, ""}};
	const struct nod_cell gap[] = {{6, ""}, {-5, ""}, {4, "x"}};
	(void)state;
	prints(cells, 3, "  body\n");
	prints(gap, 3, "               x\n");
	prints(cells, 0, "\n");
}

static const struct nod_cell too_long[] = {{6, "b\xc3\xb6"
					       "dy net"},
					   {3, "end"}};

static void test_in_a_pipe_it_is_whole(void **state)
{
	(void)state;
	prints(too_long, 2,
	       "  b\xc3\xb6"
	       "dy net end\n");
}

/* What a terminal is shown. */
static void shows(const struct nod_cell *cells, size_t count, const char *expected)
{
	char text[200] = "";
	int master = posix_openpt(O_RDWR | O_NOCTTY);
	assert_true(master >= 0 && !grantpt(master) && !unlockpt(master));
	FILE *out = fopen(ptsname(master), "w");
	assert_non_null(out);

	nod_row_print(out, cells, count);
	fflush(out);
	assert_true(read(master, text, sizeof(text) - 1) > 0);
	assert_string_equal(text, expected);
	fclose(out);
	close(master);
}

static void test_on_a_terminal_it_is_cut_at_a_character(void **state)
{
	const struct nod_cell wide[] = {{5, "\xc3\xa4\xc3\xb6\xc3\xbc\xc3\x9f\xc3\xa4\xc3\xb6"}};
	const struct nod_cell exact[] = {{4, "t\xc3\xbcr1"}, {1, "|"}};
	(void)state;
	shows(too_long, 2,
	      "  b\xc3\xb6"
	      "dy.. end\r\n");
	shows(wide, 1, "  \xc3\xa4\xc3\xb6\xc3\xbc..\r\n");
	shows(exact, 2, "  t\xc3\xbcr1 |\r\n");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_left_and_right),
		cmocka_unit_test(test_no_blanks_at_the_end),
		cmocka_unit_test(test_in_a_pipe_it_is_whole),
		cmocka_unit_test(test_on_a_terminal_it_is_cut_at_a_character),
	};
	unsetenv("COLUMNS");
	return cmocka_run_group_tests(tests, NULL, NULL);
}
