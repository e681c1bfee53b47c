/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "time-axis.h"

#define S NOD_NS_PER_S

static struct nod_axis axis_of(int64_t from_s, int64_t to_s, int64_t lock_s)
{
	struct nod_findings f = {.start = {from_s * S},
				 .end = {to_s * S},
				 .lock = {lock_s * S},
				 .lock_source = NOD_LOCK_FROM_JOURNAL};

	return nod_axis_of(&f, 100, 800);
}

static void test_times_and_places(void **state)
{
	(void)state;
	struct nod_axis axis = axis_of(1000, 1400, 1100);

	assert_true(nod_axis_x(&axis, (nod_time){1000 * S}) == 100);
	assert_true(nod_axis_x(&axis, (nod_time){1100 * S}) == 300);
	assert_true(nod_axis_x(&axis, (nod_time){1400 * S}) == 900);
	assert_true(nod_axis_x(&axis, (nod_time){10 * S}) == 100); /* kept inside */
	assert_true(nod_axis_x(&axis, (nod_time){9000 * S}) == 900);
	assert_int_equal(nod_axis_time(&axis, 300).ns, 1100 * S);
	assert_int_equal(nod_axis_time(&axis, 5000).ns, 1400 * S);
	assert_string_equal(axis.zero_name, "lock");
}

static void test_a_recording_of_no_length_has_a_second(void **state)
{
	(void)state;
	struct nod_axis axis = axis_of(1000, 1000, 1000);

	assert_int_equal(nod_time_since(axis.to, axis.from).ns, S);
	struct nod_findings nothing = {.start = NOD_TIME_NONE, .end = NOD_TIME_NONE};
	axis = nod_axis_of(&nothing, 0, 1);
	assert_int_equal(nod_time_since(axis.to, axis.from).ns, S);
}

/* At most so many ticks, at steps that people count in. */
static void test_steps(void **state)
{
	(void)state;
	static const struct {
		int64_t length_s;
		unsigned most;
		int64_t step_ms;
	} rows[] = {{1, 10, 100},
		    {400, 10, 60000},
		    {3600, 10, 600000},
		    {86400, 8, 10800000},
		    {7 * 86400, 7, 86400000},
		    {25 * 86400, 10, 3 * 86400000LL},
		    {95 * 86400, 10, 10 * 86400000LL}};

	for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++) {
		struct nod_axis axis = axis_of(0, rows[i].length_s, 0);
		nod_duration step = nod_axis_step(&axis, rows[i].most);
		assert_true(rows[i].length_s * S / step.ns <= rows[i].most);
		assert_int_equal(step.ns, rows[i].step_ms * NOD_NS_PER_MS);
	}
}

/* Ticks are multiples of the step from the lock, before it as after it. */
static void test_the_first_tick(void **state)
{
	(void)state;
	struct nod_axis before = axis_of(1000, 1400, 1095), after = axis_of(1000, 1400, 975);
	nod_duration step = {20 * S};

	assert_int_equal(nod_axis_first_tick(&before, step).ns, 1015 * S); /* 80 s before */
	assert_int_equal(nod_axis_first_tick(&after, step).ns, 1015 * S);  /* 40 s after */
}

static void test_the_words_of_a_tick(void **state)
{
	(void)state;
	static const struct {
		int64_t at_s, step_s;
		const char *text;
	} rows[] = {{0, 10, "lock"},       {-30, 10, "-30 s"},        {600, 60, "10 min"},
		    {5400, 1800, "1.5 h"}, {2 * 86400, 86400, "2 d"}, {90, 30, "1.5 min"}};
	struct nod_axis axis = axis_of(0, 1, 0);
	char buf[NOD_TIME_TEXT];

	for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++)
		assert_string_equal(nod_axis_tick_text(buf, &axis, (nod_duration){rows[i].at_s * S},
						       (nod_duration){rows[i].step_s * S}),
				    rows[i].text);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_times_and_places),
		cmocka_unit_test(test_a_recording_of_no_length_has_a_second),
		cmocka_unit_test(test_steps),
		cmocka_unit_test(test_the_first_tick),
		cmocka_unit_test(test_the_words_of_a_tick),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
