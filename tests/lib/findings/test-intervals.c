/* SPDX-License-Identifier: MIT */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "chance.h"
#include "intervals.h"

static struct nod_intervals of(const int *at, size_t count)
{
	struct nod_intervals in = NOD_INTERVALS_NONE;

	for (size_t i = 0; i < count; i++)
		nod_intervals_add(&in, (nod_time){at[i] * NOD_NS_PER_S});
	return in;
}

static void test_times_are_added_up(void **state)
{
	(void)state;
	static const int at[] = {100, 160, 250};
	struct nod_intervals in = of(at, 3);

	assert_int_equal(in.count, 2);
	assert_int_equal(in.longest.ns, 90 * NOD_NS_PER_S);
	assert_int_equal(in.first.ns, 100 * NOD_NS_PER_S);
	assert_int_equal(in.last.ns, 250 * NOD_NS_PER_S);
	assert_true(fabs(in.sum - 150) < 1e-9 && fabs(in.squares - (3600 + 8100)) < 1e-9);
	assert_int_equal(of(at, 1).count, 0);
	assert_int_equal(of(at, 1).longest.ns, 0);
}

static void test_what_comes_by_a_clock(void **state)
{
	(void)state;
	static const int steady[] = {0, 600, 1210, 1800}, loose[] = {0, 100, 1400, 1700};
	struct nod_intervals in = of(steady, 4);

	assert_true(nod_intervals_are_regular(&in));
	in = of(steady, 3); /* two intervals may agree by chance */
	assert_false(nod_intervals_are_regular(&in));
	in = of(loose, 4);
	assert_false(nod_intervals_are_regular(&in));
}

/* By a clock: nothing is said by a silence up to the longest interval, all at twice that. */
static void test_a_silence_against_a_clock(void **state)
{
	(void)state;
	static const int steady[] = {0, 600, 1200, 1800};
	struct nod_intervals in = of(steady, 4);
	nod_duration watched = {1800 * NOD_NS_PER_S}, silent = {600 * NOD_NS_PER_S};

	assert_true(nod_intervals_chance(&in, 4, watched, silent) == 1);
	silent.ns *= 2;
	assert_true(fabs(nod_intervals_chance(&in, 4, watched, silent) - NOD_PROOF_CHANCE) < 1e-12);
	assert_int_equal(nod_intervals_silence(&in, 4, watched).ns, 1200 * NOD_NS_PER_S);
}

/* Else by the rate: (T / (T + t))^n. */
static void test_a_silence_against_a_rate(void **state)
{
	(void)state;
	static const int loose[] = {0, 100, 1400, 1800};
	struct nod_intervals in = of(loose, 4);
	nod_duration watched = {1800 * NOD_NS_PER_S};

	assert_true(fabs(nod_intervals_chance(&in, 4, watched, watched) - 0.0625) < 1e-12);
	nod_duration proof = nod_intervals_silence(&in, 4, watched);
	assert_true(nod_intervals_chance(&in, 4, watched, proof) <= NOD_PROOF_CHANCE);
	proof.ns -= 2 * NOD_NS_PER_S;
	assert_true(nod_intervals_chance(&in, 4, watched, proof) > NOD_PROOF_CHANCE);
}

/* Of the wake-ups only those that nothing explains, on the network asked for, before the time. */
static void test_wake_ups(void **state)
{
	(void)state;
	struct nod_wake_finding wakes[] = {
		{.time = {10 * NOD_NS_PER_S}, .network = 0, .cause = ""},
		{.time = {20 * NOD_NS_PER_S}, .network = 1, .cause = ""},
		{.time = {30 * NOD_NS_PER_S}, .network = 0, .cause = "door"},
		{.time = {50 * NOD_NS_PER_S}, .network = 0, .cause = ""},
		{.time = {90 * NOD_NS_PER_S}, .network = 0, .cause = ""},
	};
	struct nod_findings f = {.wakes = wakes, .wake_count = 5};
	struct nod_intervals in = nod_intervals_of_wakes(&f, NOD_NONE, wakes[4].time);

	assert_int_equal(in.count, 2);
	assert_int_equal(in.longest.ns, 30 * NOD_NS_PER_S);
	in = nod_intervals_of_wakes(&f, 0, (nod_time){INT64_MAX});
	assert_int_equal(in.count, 2);
	assert_int_equal(in.longest.ns, 40 * NOD_NS_PER_S);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_times_are_added_up),
		cmocka_unit_test(test_what_comes_by_a_clock),
		cmocka_unit_test(test_a_silence_against_a_clock),
		cmocka_unit_test(test_a_silence_against_a_rate),
		cmocka_unit_test(test_wake_ups),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
