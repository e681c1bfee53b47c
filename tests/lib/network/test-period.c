/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "period.h"

static void offer_ms(struct nod_sampler *s, int64_t ms, int times)
{
	for (int i = 0; i < times; i++)
		nod_sampler_take(s, ms * NOD_NS_PER_MS);
}

static void test_a_cyclic_message_has_its_period(void **state)
{
	(void)state;
	struct nod_sampler s = {0};
	for (int i = 0; i < 1000; i++)
		nod_sampler_take(&s, (100 + (i % 3) - 1) * NOD_NS_PER_MS);
	struct nod_period p = nod_sampler_period(&s);
	assert_int_equal(p.rhythm, NOD_RHYTHM_CYCLIC);
	assert_in_range(p.period.ns, 99 * NOD_NS_PER_MS, 101 * NOD_NS_PER_MS);
	assert_in_range(p.jitter.ns, 0, 2 * NOD_NS_PER_MS);
}

static void test_few_intervals_say_nothing(void **state)
{
	(void)state;
	struct nod_sampler s = {0};
	offer_ms(&s, 100, 4);
	struct nod_period p = nod_sampler_period(&s);
	assert_int_equal(p.rhythm, NOD_RHYTHM_UNKNOWN);
	assert_int_equal(p.period.ns, INT64_MIN);
}

static void test_the_fastest_pace_of_one_that_slowed_down(void **state)
{
	(void)state;
	struct nod_sampler s = {0}, few = {0};
	offer_ms(&s, 100, 200);
	offer_ms(&s, 900, 300);
	offer_ms(&few, 100, 2);
	assert_int_equal(nod_sampler_fastest(&s).ns, 100 * NOD_NS_PER_MS);
	assert_int_equal(nod_sampler_fastest(&few).ns, NOD_DURATION_NONE.ns);
}

static void test_irregular_intervals_are_events(void **state)
{
	(void)state;
	struct nod_sampler s = {0};
	uint32_t x = 1;
	for (int i = 0; i < 500; i++) {
		x = x * 1664525u + 1013904223u;
		nod_sampler_take(&s, (int64_t)(x >> 8) * 1000);
	}
	assert_int_equal(nod_sampler_period(&s).rhythm, NOD_RHYTHM_ON_EVENT);
}

static void test_events_between_cycles_are_told(void **state)
{
	(void)state;
	struct nod_sampler s = {0};
	for (int i = 0; i < 40; i++) {
		offer_ms(&s, 500, 3);
		offer_ms(&s, 20, 1);
	}
	struct nod_period p = nod_sampler_period(&s);
	assert_int_equal(p.period.ns, 500 * NOD_NS_PER_MS);
	assert_in_range(p.rhythm, NOD_RHYTHM_CYCLIC, NOD_RHYTHM_MIXED);
}

/* The sample covers the whole time evenly: a change half-way shows. */
static void test_the_sample_covers_the_whole_time(void **state)
{
	(void)state;
	struct nod_sampler s = {0};
	unsigned fast = 0;
	offer_ms(&s, 10, 5000);
	offer_ms(&s, 1000, 5000);
	for (unsigned i = 0; i < s.used; i++)
		fast += s.us[i] == 10000;
	assert_int_equal(s.offered, 10000);
	assert_in_range(fast * 100 / s.used, 40, 70);
}

static void test_long_intervals_saturate(void **state)
{
	(void)state;
	struct nod_sampler s = {0};
	for (int i = 0; i < 8; i++)
		nod_sampler_take(&s, INT64_MAX);
	assert_int_equal(nod_sampler_period(&s).period.ns, (int64_t)UINT32_MAX * 1000);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_a_cyclic_message_has_its_period),
		cmocka_unit_test(test_few_intervals_say_nothing),
		cmocka_unit_test(test_the_fastest_pace_of_one_that_slowed_down),
		cmocka_unit_test(test_irregular_intervals_are_events),
		cmocka_unit_test(test_events_between_cycles_are_told),
		cmocka_unit_test(test_the_sample_covers_the_whole_time),
		cmocka_unit_test(test_long_intervals_saturate),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
