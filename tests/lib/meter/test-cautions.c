/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "cautions.h"

#define EVERY_JOB \
	(NOD_JOB_FUSES | NOD_JOB_PINS | NOD_JOB_BATTERY | NOD_JOB_CURRENT | NOD_JOB_ISOLATE)

static char *printed(unsigned jobs)
{
	char *text = NULL;
	size_t size;
	FILE *out = open_memstream(&text, &size);

	assert_non_null(out);
	nod_cautions_print(out, jobs);
	fclose(out);
	return text;
}

static void test_each_is_plain_and_takes_two_lines_at_most(void **state)
{
	(void)state;
	char *text = printed(EVERY_JOB);
	int lines = 0, cautions = 0;

	for (char *line = strtok(text, "\n"); line; line = strtok(NULL, "\n")) {
		assert_true(strlen(line) <= 78);
		for (const char *c = line; *c; c++)
			assert_in_range(*c, ' ', '~');
		lines = *line == '!' ? 1 : lines + 1;
		cautions += *line == '!';
		assert_true(lines <= 2);
	}
	assert_int_equal(cautions, 9); /* each belongs to some job */
	free(text);
}

static void test_cautions_come_where_the_work_is(void **state)
{
	(void)state;
	char *fuses = printed(NOD_JOB_FUSES), *battery = printed(NOD_JOB_BATTERY);
	char *isolate = printed(NOD_JOB_ISOLATE), *current = printed(NOD_JOB_CURRENT);

	assert_non_null(strstr(fuses, "Airbag"));
	assert_non_null(strstr(fuses, "High-voltage"));
	assert_null(strstr(fuses, "gas"));
	assert_non_null(strstr(battery, "gas"));
	assert_null(strstr(battery, "Airbag"));
	assert_non_null(strstr(isolate, "restarts its modules' clocks"));
	assert_non_null(strstr(current, "in series"));
	char *all[] = {fuses, battery, isolate, current};
	for (size_t i = 0; i < 4; i++) {
		assert_non_null(strstr(all[i], "maker's procedure"));
		free(all[i]);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_each_is_plain_and_takes_two_lines_at_most),
		cmocka_unit_test(test_cautions_come_where_the_work_is),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
