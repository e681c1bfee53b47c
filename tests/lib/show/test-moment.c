/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "moment.h"

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

static void test_sentences(void **state)
{
	(void)state;
	static const struct {
		const char *text, *told;
	} cases[] = {
		{"slept at lock+48.431 s and", "slept at 22:14:08 (48.4 s after lock) and"},
		{"lock-2.000 s, lock+1.000 s",
		 "22:13:18 (2.0 s before lock), 22:13:21 (1.0 s after lock)"},
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
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_the_clock_and_how_long_after_the_lock),
		cmocka_unit_test(test_a_clock_that_tells_no_time_of_day),
		cmocka_unit_test(test_sentences),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
