/* SPDX-License-Identifier: MIT */
#include "scene.h"

#define MIN (60 * 1000)

static const char body[] = "limits: { key-off current: 50 mA }\n"
			   "networks:\n"
			   "  body: { interfaces: [can0], sleeps within: 10 min, quiet time: 3 s, "
			   "management: { scheme: none } }\n";

/* A sample a second; awake until 2 min at `awake` mA, then `asleep` mA. */
static const struct nod_findings *park(struct scene *s, int64_t awake, int64_t asleep)
{
	scene_begin(s, body);
	mark_at(s, 0, NOD_MARK_LOCKED, "");
	for (int64_t t = 0; t < 30 * MIN; t += 1000) {
		struct nod_event e = {.kind = NOD_EVENT_CURRENT, .time = {t * NOD_NS_PER_MS}};
		e.current.microamps = (t < 2 * MIN ? awake : asleep) * 1000 + (t / 1000 % 3) * 300;
		scene_take(s, &e);
		if (t < 2 * MIN)
			for (int64_t k = 100; k < 1000; k += 100)
				frame_at(s, t + k, 0, "100#00");
	}
	return found_at(s, 30 * MIN);
}

static bool says(const struct nod_findings *f, const char *part)
{
	for (size_t i = 0; i < f->fact_count; i++)
		if (strstr(f->facts[i], part))
			return true;
	return false;
}

static void test_a_car_that_sleeps_and_rests_is_in_order(void **state)
{
	(void)state;
	struct scene s;
	const struct nod_findings *f = park(&s, 2000, 15);
	assert_true(f->has_current);
	assert_int_equal(f->verdict, NOD_VERDICT_SLEEPS);
	scene_end(&s);
}

/* All networks sleep, and yet it takes too much: not a network matter. */
static void test_a_sleeping_car_that_takes_too_much_draws(void **state)
{
	(void)state;
	struct scene s;
	const struct nod_findings *f = park(&s, 2000, 350);
	assert_int_equal(f->verdict, NOD_VERDICT_DRAWS);
	assert_int_equal(f->suspects[0].kind, NOD_SUSPECT_NOT_NETWORK);
	assert_int_equal(f->suspects[0].role, NOD_ROLE_DRAIN);
	assert_true(says(f, "350 mA") || strstr(f->sentence, "350 mA"));
	scene_end(&s);
}

/* Within what the clamp wanders nobody is accused. */
static void test_a_little_above_the_limit_is_within_the_clamps_wander(void **state)
{
	(void)state;
	struct scene s;
	assert_int_equal(park(&s, 2000, 55)->verdict, NOD_VERDICT_SLEEPS);
	scene_end(&s);
}

static void test_without_samples_nothing_is_said_of_the_current(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, body);
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, 2 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_false(f->has_current);
	assert_null(f->current);
	assert_null(f->join);
	assert_int_equal(f->verdict, NOD_VERDICT_SLEEPS);
	assert_false(says(f, " mA"));
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_a_car_that_sleeps_and_rests_is_in_order),
		cmocka_unit_test(test_a_sleeping_car_that_takes_too_much_draws),
		cmocka_unit_test(test_a_little_above_the_limit_is_within_the_clamps_wander),
		cmocka_unit_test(test_without_samples_nothing_is_said_of_the_current),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
