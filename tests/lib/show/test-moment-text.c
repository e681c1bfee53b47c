/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "moment-text.h"

#define S NOD_NS_PER_S

/* 2023-11-14 22:13:20 UTC, by `date -u -d @1700000000`. */
static const struct nod_findings evening = {.lock = {1700000000 * S},
					    .lock_source = NOD_LOCK_FROM_JOURNAL};

static void shown(const struct nod_findings *f, int64_t ns, const char *expected)
{
	char buf[NOD_MOMENT_TEXT];

	assert_string_equal(nod_moment_print(buf, f, (nod_time){ns}, "UTC"), expected);
}

static void test_the_clock_and_how_long_after_the_lock(void **state)
{
	(void)state;
	shown(&evening, 1700000303 * S, "22:18:23 (5 min 03 s after lock)");
	shown(&evening, 1699999990 * S, "22:13:10 (10.0 s before lock)");
	shown(&evening, 1700007200 * S, "2023-11-15 00:13:20 (2 h 00 min after lock)");
	shown(&evening, INT64_MIN, "not known");
}

static void test_a_clock_that_tells_no_time_of_day(void **state)
{
	(void)state;
	struct nod_findings f = {.lock = {0}, .lock_source = NOD_LOCK_FROM_START};

	shown(&f, 303 * S, "5 min 03 s after start");
	f = evening;
	f.clock_steps = 1; /* which clock was it? */
	shown(&f, 1700000303 * S, "5 min 03 s after lock");
}

static void in_a_table(const struct nod_findings *f, int64_t ns, const char *expected)
{
	char buf[NOD_MOMENT_TEXT];

	assert_string_equal(nod_moment_print_cell(buf, f, (nod_time){ns}, "UTC"), expected);
	assert_true((int)strlen(buf) <= nod_moment_cell_width(f, "UTC"));
}

static void test_a_column_of_a_table(void **state)
{
	(void)state;
	struct nod_findings f = evening;

	f.start = (nod_time){1699999990 * S};
	f.end = (nod_time){1700000620 * S};
	in_a_table(&f, 1700000303 * S, "22:18:23 +303.000");
	in_a_table(&f, 1699999990 * S, "22:13:10  -10.000");
	in_a_table(&f, INT64_MIN, "-");
	assert_int_equal(nod_moment_cell_width(&f, "UTC"), 17);
	assert_string_equal(nod_moment_cell_heading(&f), "at, s after lock");

	/* A night: the day of the week; 2023-11-14 was a Tuesday. */
	f.end = (nod_time){1700050000 * S};
	in_a_table(&f, 1700000303 * S, "Tue 22:18:23   +303.0");
	in_a_table(&f, 1700010000 * S + 50000000, "Wed 01:00:00 +10000.1");

	f.clock_steps = 1;
	in_a_table(&f, 1700000303 * S, "  +303.000");
}

static void test_sentences(void **state)
{
	(void)state;
	static const struct {
		const char *text, *told;
	} cases[] = {
		{"slept at lock+48.431 s and", "slept at 22:14:08 (48.4 s after lock) and"},
		{"lock-2.000 s, lock+1.000 s",
		 "22:13:18 (2.0 s before lock), 22:13:21 (1.0 s after lock)"},
		{"from lock+48.431 s to lock+50.000 s (1.6 s)",
		 "from 22:14:08 (48.4 s after lock) to 22:14:10 (1.6 s)"},
		{"lock+48.431 s to lock+50.000 s to lock+90000 s",
		 "22:14:08 (48.4 s after lock) to 22:14:10 to 2023-11-15 23:13:20"},
		{"lock+start+2.000 s", "lock+start+2.000 s"},
		{"the lock, lock+x s, lock", "the lock, lock+x s, lock"},
		{"lock+12.5 min", "lock+12.5 min"},
		{"", ""},
	};
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		char *told = nod_moment_tell(&evening, cases[i].text, "UTC");
		assert_non_null(told);
		assert_string_equal(told, cases[i].told);
		free(told);
	}
	char *told = nod_moment_tell_clock(&evening, "wait until lock+48.431 s", "UTC");
	assert_string_equal(told, "wait until 22:14:08");
	free(told);
	struct nod_findings f = evening;
	f.lock_source = NOD_LOCK_FROM_START; /* no lock is known: from the start of the recording */
	told = nod_moment_tell(&f, "until start+48.431 s", "UTC");
	assert_string_equal(told, "until 22:14:08 (48.4 s after start)");
	free(told);
	f = evening;
	f.clock_steps = 1; /* there is no clock to tell */
	told = nod_moment_tell_clock(&f, "wait until lock+48.431 s", "UTC");
	assert_string_equal(told, "wait until 48.4 s after lock");
	free(told);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_the_clock_and_how_long_after_the_lock),
		cmocka_unit_test(test_a_clock_that_tells_no_time_of_day),
		cmocka_unit_test(test_a_column_of_a_table),
		cmocka_unit_test(test_sentences),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
