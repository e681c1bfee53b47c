/* SPDX-License-Identifier: MIT */
#include "scene.h"

#define MIN (60 * 1000)

static const char car[] =
	"networks:\n"
	"  body: { interfaces: [can0], bitrate: 500000, sleeps within: 10 min, quiet time: 3 s, "
	"management: { scheme: none } }\n"
	"modules:\n"
	"  door unit: { networks: [body], ids: [300] }\n"
	"  seat unit: { networks: [body], ids: [200] }\n"
	"  roof unit: { networks: [body], ids: [201] }\n"
	"  horn unit: { networks: [body], ids: [202] }\n";

struct wake {
	int64_t at, length;
	const char *first; /* what the door unit sends */
};

/* All sleep after a minute; then the door unit wakes so many, itself among them, at these times. */
static const struct nod_findings *woken(struct scene *s, const struct wake *wakes, size_t count,
					size_t speakers)
{
	scene_begin(s, car);
	mark_at(s, 0, NOD_MARK_STARTED, "");
	mark_at(s, 0, NOD_MARK_LOCKED, "");
	PLAY(s, {0, "300#0000", 0, MIN, 100}, {0, "200#00", 10, MIN, 100},
	     {0, "201#00", 20, MIN, 100}, {0, "202#00", 30, MIN, 100});
	for (size_t i = 0; i < count; i++) {
		int64_t at = wakes[i].at, end = at + wakes[i].length;
		const struct cyclic heard[] = {{0, wakes[i].first, at, end, 100},
					       {0, "200#00", at + 50, end, 100},
					       {0, "201#00", at + 60, end, 100},
					       {0, "202#00", at + 70, end, 100}};
		play(s, heard, speakers);
	}
	return found_at(s, wakes[count - 1].at + 20 * MIN);
}

static double person(const struct nod_findings *f)
{
	for (size_t i = 0; i < f->suspect_count; i++)
		if (f->suspects[i].kind == NOD_SUSPECT_NOTHING)
			return f->suspects[i].probability;
	return 0;
}

static void test_a_timer_is_no_person(void **state)
{
	(void)state;
	static const struct wake wakes[] = {{20 * MIN, 20000, "300#0000"},
					    {25 * MIN, 20000, "300#0000"},
					    {30 * MIN + 400, 20000, "300#0000"},
					    {35 * MIN, 20000, "300#0000"}};
	struct scene s;
	const struct nod_findings *f = woken(&s, wakes, 4, 4);
	assert_true(person(f) < 0.02);
	assert_int_equal(f->culprit, 0);
	assert_string_equal(f->suspects[0].name, "door unit");
	scene_end(&s);
}

/* Now and then and of many lengths, as people come, and an input has moved each time. */
static void test_who_reports_what_somebody_presses_is_not_named(void **state)
{
	(void)state;
	static const struct wake wakes[] = {{20 * MIN, 20000, "300#0001"},
					    {23 * MIN, 45000, "300#0000"},
					    {31 * MIN, 12000, "300#0001"},
					    {33 * MIN, 30000, "300#0000"}};
	struct scene s;
	const struct nod_findings *f = woken(&s, wakes, 4, 4);
	assert_true(person(f) > 0.7);
	assert_int_equal(f->culprit, NOD_NONE);
	assert_non_null(strstr(f->sentence, "most likely by somebody at the car"));
	assert_non_null(strstr(f->next, "with nobody at the car"));
	scene_end(&s);
}

/* The same without any input: either may be. */
static void test_now_and_then_is_not_sure(void **state)
{
	(void)state;
	static const struct wake wakes[] = {{20 * MIN, 20000, "300#0000"},
					    {23 * MIN, 45000, "300#0000"},
					    {31 * MIN, 12000, "300#0000"},
					    {33 * MIN, 30000, "300#0000"}};
	struct scene s;
	const struct nod_findings *f = woken(&s, wakes, 4, 4);
	assert_true(person(f) > 0.3 && person(f) < 0.7);
	scene_end(&s);
}

/* Who opens a car wakes most of it. */
static void test_who_wakes_only_two_is_hardly_a_person(void **state)
{
	(void)state;
	static const struct wake wakes[] = {{20 * MIN, 20000, "300#0000"},
					    {23 * MIN, 45000, "300#0000"},
					    {31 * MIN, 12000, "300#0000"},
					    {33 * MIN, 30000, "300#0000"}};
	struct scene s;
	double of_two = person(woken(&s, wakes, 4, 2));
	scene_end(&s);
	double of_three = person(woken(&s, wakes, 4, 3));
	scene_end(&s);
	assert_true(of_two < 0.2 && of_three > 0.3);
}

/* Again and again after a time that is drawn anew, for as long as a request takes: four times may
 * be somebody; who says when the car was locked leaves it alone then. */
static void test_many_delayed_ones_are_no_person(void **state)
{
	(void)state;
	static const struct wake wakes[] = {
		{20 * MIN, 20000, "300#0000"}, {25 * MIN, 24000, "300#0000"},
		{31 * MIN, 17000, "300#0000"}, {35 * MIN, 26000, "300#0000"},
		{40 * MIN, 22000, "300#0000"}, {46 * MIN, 19000, "300#0000"}};
	struct scene s;
	const struct nod_findings *f = woken(&s, wakes, 3, 4);
	assert_true(person(f) > 0.2);
	scene_end(&s);
	f = woken(&s, wakes, 6, 4);
	assert_true(person(f) < 0.08);
	assert_string_equal(f->suspects[0].name, "door unit");
	assert_true(f->suspects[0].probability > 0.85);
	scene_end(&s);
}

/* The same, and an input moves each time: hands. */
static void test_many_that_are_pressed_may_be_a_person(void **state)
{
	(void)state;
	static const struct wake wakes[] = {
		{20 * MIN, 20000, "300#0200"}, {25 * MIN, 24000, "300#0000"},
		{31 * MIN, 17000, "300#0200"}, {35 * MIN, 26000, "300#0000"},
		{40 * MIN, 22000, "300#0200"}, {46 * MIN, 19000, "300#0000"}};
	struct scene s;
	const struct nod_findings *f = woken(&s, wakes, 6, 4);
	assert_true(person(f) > 0.3);
	scene_end(&s);
}

/* Of four units one is heard, and what the map lacks: switched off in the middle of it, and on. */
static void test_a_bench_that_is_switched_accuses_nobody(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, car);
	PLAY(&s, {0, "300#0000", 0, 12 * MIN, 100}, {0, "410#00", 7, 12 * MIN, 50},
	     {0, "300#0000", 15 * MIN, 17 * MIN, 100}, {0, "410#00", 15 * MIN + 7, 17 * MIN, 50});
	const struct nod_findings *f = found_at(&s, 17 * MIN);
	assert_int_equal(f->verdict, NOD_VERDICT_CANNOT_TELL);
	assert_int_equal(f->culprit, NOD_NONE);
	assert_int_equal(f->wake_count, 0);
	assert_false(nod_time_is_set(f->networks[0].first_slept_at));
	assert_non_null(strstr(f->sentence, "one module on a bench"));
	assert_non_null(strstr(f->next, "On a bench"));
	scene_end(&s);
}

/* Without a break it may be a car all the same, in which one goes on. */
static void test_one_unit_that_never_breaks_off_is_named(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, car);
	PLAY(&s, {0, "300#0000", 0, 30 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_int_equal(f->verdict, NOD_VERDICT_KEPT_AWAKE);
	assert_int_equal(f->culprit, 0);
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_a_timer_is_no_person),
		cmocka_unit_test(test_who_reports_what_somebody_presses_is_not_named),
		cmocka_unit_test(test_now_and_then_is_not_sure),
		cmocka_unit_test(test_who_wakes_only_two_is_hardly_a_person),
		cmocka_unit_test(test_many_delayed_ones_are_no_person),
		cmocka_unit_test(test_many_that_are_pressed_may_be_a_person),
		cmocka_unit_test(test_a_bench_that_is_switched_accuses_nobody),
		cmocka_unit_test(test_one_unit_that_never_breaks_off_is_named),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
