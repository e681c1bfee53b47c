/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "clock-offset.h"

/* A made-up parked car: times of the bus in seconds, + wakes, - falls asleep. */
struct scene {
	struct nod_transition transitions[600];
	struct nod_offset_step steps[300];
	size_t transition_count, step_count;
	double from, to; /* of both recordings, in bus time */
};

#define LOGGER_SLOW 3671.25 /* the logger's clock is an hour and a bit behind */

static nod_time at(double seconds)
{
	return (nod_time){(int64_t)(seconds * 1e9)};
}

static void add(struct scene *s, double time, bool wakes, double step_ma, double lag)
{
	s->transitions[s->transition_count++] = (struct nod_transition){at(time), 0, wakes};
	if (step_ma != 0)
		s->steps[s->step_count++] = (struct nod_offset_step){
			at(time + lag - LOGGER_SLOW), {NOD_NS_PER_S / 2}, step_ma * 1000};
}

static struct nod_clock_offset found(const struct scene *s)
{
	struct nod_clock_offset r;

	assert_int_equal(nod_clock_offset_find(&r, s->steps, s->step_count,
					       at(s->from - LOGGER_SLOW), at(s->to - LOGGER_SLOW),
					       s->transitions, s->transition_count, at(s->from),
					       at(s->to)),
			 0);
	assert_true(r.reason[0] != '\0');
	assert_int_equal(nod_time_is_set((nod_time){r.offset.ns}), r.state == NOD_OFFSET_FOUND);
	return r;
}

static void assert_found(const struct scene *s, double within)
{
	struct nod_clock_offset r = found(s);
	double error = (double)r.offset.ns / 1e9 - LOGGER_SLOW;

	assert_int_equal(r.state, NOD_OFFSET_FOUND);
	assert_true(error <= within && error >= -within);
	assert_true(error <= (double)r.uncertainty.ns / 1e9 &&
		    -error <= (double)r.uncertainty.ns / 1e9);
}

/* Falls asleep after the lock, is woken three times without a period. */
static struct scene irregular(void)
{
	struct scene s = {.from = 0, .to = 4000};

	add(&s, 610, false, -4000, 3.1);
	add(&s, 1210, true, 900, 0.2);
	add(&s, 1290, false, -880, 2.5);
	add(&s, 2004, true, 910, 0.4);
	add(&s, 2088, false, -900, 3.3);
	add(&s, 3555, true, 905, 0.1);
	add(&s, 3641, false, -905, 2.9);
	return s;
}

static void test_irregular_wake_ups_determine_it(void **state)
{
	(void)state;
	struct scene s = irregular();

	assert_found(&s, 0.6);
}

static void test_noise_steps_and_missing_ones_do_not_mislead(void **state)
{
	(void)state;
	struct scene s = irregular();

	/* a step is missing, two more have nothing to do with the bus, a second
	 * network follows the first without a step of its own */
	s.steps[4] = (struct nod_offset_step){at(3000 - LOGGER_SLOW), {NOD_NS_PER_S / 2}, 60000};
	for (size_t i = 0; i < 7; i++) {
		struct nod_transition t = s.transitions[i];
		t.time.ns += NOD_NS_PER_S / 3;
		t.network = 1;
		s.transitions[7 + i] = t;
	}
	struct nod_transition ordered[14];
	for (size_t i = 0; i < 7; i++) {
		ordered[2 * i] = s.transitions[i];
		ordered[2 * i + 1] = s.transitions[7 + i];
	}
	memcpy(s.transitions, ordered, sizeof(ordered));
	s.transition_count = 14;
	/* keep the steps in time order */
	struct nod_offset_step late = s.steps[4];
	assert_true(s.steps[3].time.ns < late.time.ns && late.time.ns < s.steps[5].time.ns);
	assert_found(&s, 0.8);
}

static void test_nothing_but_a_period_is_refused(void **state)
{
	(void)state;
	struct scene s = {.from = 0, .to = 6000};

	for (int i = 0; i < 10; i++) {
		add(&s, 200 + 570 * i, true, 150, 0.2);
		add(&s, 245 + 570 * i, false, -150, 1.5);
	}
	struct nod_clock_offset r = found(&s);
	assert_int_equal(r.state, NOD_OFFSET_AMBIGUOUS);
	double apart = (double)r.rival.ns / 1e9 - LOGGER_SLOW;
	assert_true(apart > 560 || apart < -560);
}

static void test_a_period_with_the_sleep_after_the_lock_is_determined(void **state)
{
	(void)state;
	struct scene s = {.from = 0, .to = 6000};

	add(&s, 130, false, -4000, 3);
	for (int i = 1; i < 10; i++) {
		add(&s, 200 + 570 * i, true, 150, 0.2);
		add(&s, 245 + 570 * i, false, -150, 1.5);
	}
	assert_found(&s, 0.6);
}

static void test_only_falls_are_less_certain(void **state)
{
	(void)state;
	struct scene s = {.from = 0, .to = 3000};

	add(&s, 300, false, -4000, 3);
	add(&s, 720, false, -2000, 2);
	add(&s, 1901, false, -500, 4);
	struct nod_clock_offset r = found(&s);
	assert_int_equal(r.state, NOD_OFFSET_FOUND);
	assert_true(r.uncertainty.ns > 5 * NOD_NS_PER_S);
	assert_true(llabs(r.offset.ns - at(LOGGER_SLOW).ns) < r.uncertainty.ns);
}

static void test_too_little_and_no_match(void **state)
{
	(void)state;
	struct scene s = {.from = 0, .to = 3000};

	add(&s, 300, false, -4000, 3);
	add(&s, 720, true, 2000, 0);
	assert_int_equal(found(&s).state, NOD_OFFSET_TOO_LITTLE);
	add(&s, 800, false, -2000, 0);
	/* steps of one sign against transitions of the other */
	for (size_t i = 0; i < s.step_count; i++) {
		s.steps[i].change_ua = 100;
		s.transitions[i].wakes = false;
	}
	assert_int_equal(found(&s).state, NOD_OFFSET_NO_MATCH);
}

static double uniform(uint32_t *seed)
{
	*seed = *seed * 1664525u + 1013904223u;
	return (*seed >> 8) / 16777216.0;
}

static void test_unrelated_steps_determine_nothing(void **state)
{
	(void)state;
	static const size_t counts[] = {3, 5, 8, 20};
	uint32_t seed = 1;

	for (int round = 0; round < 200; round++) {
		struct scene s = {.from = 0, .to = 7200};
		double step = 0, transition = 0;
		size_t n = counts[round % 4];
		for (size_t i = 0; i < n; i++) {
			step += uniform(&seed) * 14000 / (double)n;
			transition += uniform(&seed) * 14000 / (double)n;
			s.steps[i] = (struct nod_offset_step){
				at(step),
				{NOD_NS_PER_S / 2},
				(i % 2 ? -1 : 1) * (50 + 4000 * uniform(&seed)) * 1000};
			s.transitions[i] = (struct nod_transition){at(transition), 0, i % 2 == 0};
		}
		s.step_count = s.transition_count = n;
		assert_int_not_equal(found(&s).state, NOD_OFFSET_FOUND);
	}
}

static void test_steps_of_a_trace(void **state)
{
	(void)state;
	struct nod_current_step steps[] = {
		{.time = {5000}, .change_ua = -70},
		{.time = {6000}, .change_ua = 900, .zeroing = true},
	};
	struct nod_current_pulse pulses[] = {{.from = {1000}, .to = {9000}, .height_ua = 50}};
	struct nod_current_findings f = {
		.steps = steps, .step_count = 2, .pulses = pulses, .pulse_count = 1, .cell = {200}};
	struct nod_offset_step out[3];

	assert_int_equal(nod_offset_steps_collect(out, 3, &f), 3);
	assert_true(out[0].time.ns == 1000 && out[0].change_ua == 50 && out[0].unsure.ns == 100);
	assert_true(out[1].time.ns == 5000 && out[2].change_ua == -50);
	assert_int_equal(nod_offset_steps_collect(out, 1, &f), 1);
	assert_true(out[0].change_ua == -70);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_irregular_wake_ups_determine_it),
		cmocka_unit_test(test_noise_steps_and_missing_ones_do_not_mislead),
		cmocka_unit_test(test_nothing_but_a_period_is_refused),
		cmocka_unit_test(test_a_period_with_the_sleep_after_the_lock_is_determined),
		cmocka_unit_test(test_only_falls_are_less_certain),
		cmocka_unit_test(test_too_little_and_no_match),
		cmocka_unit_test(test_unrelated_steps_determine_nothing),
		cmocka_unit_test(test_steps_of_a_trace),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
