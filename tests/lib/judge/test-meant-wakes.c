/* SPDX-License-Identifier: MIT */
#include "scene.h"

#define S 1000
#define MIN (60 * S)

static const char car[] =
	"networks:\n"
	"  body: { interfaces: [can0], bitrate: 500000, sleeps within: 10 min, quiet time: 3 s }\n"
	"modules:\n"
	"  cluster: { ids: [100], wakes after: [40 min, 80 min], wakes for: 30 s }\n"
	"  telematics: { ids: [200], wakes every: 15 min, wakes for: 10 s }\n"
	"  seat unit: { ids: [300] }\n";

static void begin(struct scene *s, const char *vehicle)
{
	scene_begin(s, vehicle);
	mark_at(s, 0, NOD_MARK_STARTED, "");
	mark_at(s, 0, NOD_MARK_LOCKED, "");
	PLAY(s, {0, "300#00", 0, 20 * S, 100}, {0, "100#00", 0, 20 * S, 100},
	     {0, "200#00", 0, 20 * S, 100});
}

static void test_what_the_file_announces_is_expected(void **state)
{
	(void)state;
	struct scene s;
	begin(&s, car);
	PLAY(&s, {0, "100#00", 41 * MIN, 41 * MIN + 20 * S, 100});
	PLAY(&s, {0, "100#00", 80 * MIN, 80 * MIN + 20 * S, 100});
	const struct nod_findings *f = found_at(&s, 100 * MIN);
	assert_int_equal(f->verdict, NOD_VERDICT_SLEEPS);
	assert_int_equal(f->networks[0].wakes, 0);
	assert_int_equal(f->networks[0].wakes_explained, 2);
	assert_string_equal(f->wakes[0].cause, "expected by the vehicle file");
	scene_end(&s);
}

/* At another time, for too long, or by somebody else, it is none. */
static void test_what_comes_otherwise_is_not(void **state)
{
	(void)state;
	struct scene s;
	begin(&s, car);
	PLAY(&s, {0, "100#00", 20 * MIN, 20 * MIN + 20 * S, 100});
	PLAY(&s, {0, "100#00", 40 * MIN, 42 * MIN, 100});
	PLAY(&s, {0, "300#00", 80 * MIN, 80 * MIN + 20 * S, 100});
	const struct nod_findings *f = found_at(&s, 100 * MIN);
	assert_int_equal(f->verdict, NOD_VERDICT_WOKEN);
	assert_int_equal(f->networks[0].wakes, 3);
	scene_end(&s);
}

static void test_again_and_again_by_a_clock(void **state)
{
	(void)state;
	struct scene s;
	begin(&s, car);
	for (int64_t t = 15 * MIN; t <= 90 * MIN; t += 15 * MIN)
		PLAY(&s, {0, "200#00", t, t + 5 * S, 100});
	const struct nod_findings *f = found_at(&s, 100 * MIN);
	assert_int_equal(f->networks[0].wakes, 0);
	assert_int_equal(f->networks[0].wakes_explained, 6);
	scene_end(&s);
}

/* Without the file it is offered, with what it costs. */
static void test_what_looks_meant_is_offered(void **state)
{
	(void)state;
	struct scene s;
	begin(&s, NULL);
	for (int64_t t = 120 * MIN; t <= 720 * MIN; t += 120 * MIN)
		PLAY(&s, {0, "200#00", t, t + 5 * S, 100});
	const struct nod_findings *f = found_at(&s, 800 * MIN);
	assert_int_equal(f->verdict, NOD_VERDICT_SLEEPS);
	assert_non_null(strstr(f->networks[0].reason, "likely meant"));
	assert_non_null(strstr(f->networks[0].reason, "mAh a day"));
	scene_end(&s);
}

/* What somebody did meanwhile does not count. */
static void test_a_noted_door_does_not_hide_what_looks_meant(void **state)
{
	(void)state;
	struct scene s;
	begin(&s, NULL);
	for (int64_t t = 120 * MIN; t <= 720 * MIN; t += 120 * MIN) {
		PLAY(&s, {0, "200#00", t, t + 5 * S, 100});
		if (t != 480 * MIN)
			continue;
		mark_at(&s, t + 50 * MIN, NOD_MARK_DOOR, "left");
		PLAY(&s, {0, "300#00", t + 50 * MIN + 100, t + 50 * MIN + 20 * S, 100});
	}
	const struct nod_findings *f = found_at(&s, 800 * MIN);
	assert_int_equal(f->networks[0].wakes_explained, 1);
	assert_int_equal(f->networks[0].wakes, 6);
	assert_non_null(strstr(f->networks[0].reason, "likely meant"));
	scene_end(&s);
}

/* Two intervals alike may be chance; two minutes beside round times after the lock. */
static void test_three_wake_ups_are_too_few(void **state)
{
	(void)state;
	struct scene s;
	begin(&s, NULL);
	for (int64_t t = 122 * MIN; t <= 362 * MIN; t += 120 * MIN)
		PLAY(&s, {0, "200#00", t, t + 5 * S, 100});
	const struct nod_findings *f = found_at(&s, 440 * MIN);
	assert_int_equal(f->wake_count, 3);
	assert_null(strstr(f->networks[0].reason, "likely meant"));
	scene_end(&s);
}

/* Twice in a night, at a maker's figures after the lock. */
static void test_round_times_after_the_lock_are_offered(void **state)
{
	(void)state;
	struct scene s;
	begin(&s, NULL);
	PLAY(&s, {0, "100#00", 16 * MIN, 16 * MIN + 5 * S, 100});
	PLAY(&s, {0, "100#00", 80 * MIN, 80 * MIN + 5 * S, 100});
	const struct nod_findings *f = found_at(&s, 800 * MIN);
	assert_int_equal(f->wake_count, 2);
	assert_non_null(strstr(f->networks[0].reason, "whole multiples of 4 min after the lock"));
	scene_end(&s);
	begin(&s, NULL);
	PLAY(&s, {0, "100#00", 16 * MIN, 16 * MIN + 5 * S, 100});
	PLAY(&s, {0, "100#00", 82 * MIN, 82 * MIN + 5 * S, 100});
	assert_null(strstr(found_at(&s, 800 * MIN)->networks[0].reason, "likely meant"));
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_what_the_file_announces_is_expected),
		cmocka_unit_test(test_what_comes_otherwise_is_not),
		cmocka_unit_test(test_again_and_again_by_a_clock),
		cmocka_unit_test(test_what_looks_meant_is_offered),
		cmocka_unit_test(test_a_noted_door_does_not_hide_what_looks_meant),
		cmocka_unit_test(test_three_wake_ups_are_too_few),
		cmocka_unit_test(test_round_times_after_the_lock_are_offered),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
