/* SPDX-License-Identifier: MIT */
#include "scene.h"

#define S 1000
#define MIN (60 * S)

#define MESSAGES 5

/* The same messages under another interface, from `from` on, in their rhythm. */
static void under(struct scene *s, int interface, int64_t from, int64_t to,
		  const char *const texts[])
{
	struct cyclic list[MESSAGES];

	for (int i = 0; i < MESSAGES; i++)
		list[i] = (struct cyclic){interface, texts[i], from + 13 * i, to, 100 + 100 * i};
	play(s, list, MESSAGES);
}

static const char *const car[] = {"100#00", "110#00", "120#00", "130#00", "140#00"};
static const char *const other[] = {"100#00", "210#00", "220#00", "230#00", "240#00"};

static void test_the_same_under_another_name_has_not_slept(void **state)
{
	(void)state;
	for (int pause = 0; pause < 2; pause++) {
		struct scene s;
		scene_begin(&s, NULL);
		nod_engine_set_lock(s.engine, (nod_time){0}, NOD_LOCK_FROM_OPTION);
		under(&s, 0, 0, 10 * MIN, car);
		under(&s, 1, 10 * MIN + pause * 30 * S, 50 * MIN, car);
		const struct nod_findings *f = found_at(&s, 50 * MIN);
		assert_int_equal(f->networks[0].goes_on_as, 1);
		assert_int_equal(f->networks[0].verdict, NOD_VERDICT_CANNOT_TELL);
		assert_non_null(strstr(f->networks[0].reason, "go on in their rhythm as can1"));
		assert_false(nod_time_is_set(f->networks[0].first_slept_at));
		assert_int_equal(f->networks[1].verdict, NOD_VERDICT_KEPT_AWAKE);
		assert_int_equal(f->networks[1].wakes, 0);
		assert_int_equal(f->verdict, NOD_VERDICT_KEPT_AWAKE);
		scene_end(&s);
	}
}

/* The sleep of the second is the sleep of both. */
static void test_it_sleeps_under_its_new_name(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, NULL);
	nod_engine_set_lock(s.engine, (nod_time){0}, NOD_LOCK_FROM_OPTION);
	under(&s, 0, 0, 3 * MIN, car);
	under(&s, 1, 3 * MIN, 4 * MIN, car);
	PLAY(&s, {1, "100#00", 4 * MIN, 4 * MIN + 20 * S, 100},
	     {1, "110#00", 4 * MIN, 4 * MIN + 10 * S, 200});
	const struct nod_findings *f = found_at(&s, 50 * MIN);
	assert_int_equal(f->networks[0].goes_on_as, 1);
	assert_int_equal(f->verdict, NOD_VERDICT_SLEEPS);
	scene_end(&s);
}

/* A lone talker goes on in its turn, or later and is not known to. */
static void test_a_lone_talker_is_known_by_its_turn(void **state)
{
	(void)state;
	for (int pause = 0; pause < 2; pause++) {
		struct scene s;
		scene_begin(&s, NULL);
		under(&s, 0, 0, 3 * MIN, car);
		PLAY(&s, {0, "18FEF121#00", 3 * MIN, 5 * MIN, 100});
		PLAY(&s, {1, "18FEF121#00", 5 * MIN + 250 * pause, 9 * MIN, 100});
		const struct nod_findings *f = found_at(&s, 9 * MIN);
		assert_int_equal(f->networks[0].goes_on_as, pause ? NOD_NONE : 1);
		scene_end(&s);
	}
}

static void test_others_are_another_network(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, NULL);
	nod_engine_set_lock(s.engine, (nod_time){0}, NOD_LOCK_FROM_OPTION);
	under(&s, 0, 0, 10 * MIN, car);
	under(&s, 1, 10 * MIN, 50 * MIN, other);
	assert_int_equal(found_at(&s, 50 * MIN)->networks[0].goes_on_as, NOD_NONE);
	scene_end(&s);
}

static void test_both_at_once_are_two(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, NULL);
	nod_engine_set_lock(s.engine, (nod_time){0}, NOD_LOCK_FROM_OPTION);
	struct cyclic list[2 * MESSAGES];
	for (int i = 0; i < 2 * MESSAGES; i++)
		list[i] = (struct cyclic){i / MESSAGES, car[i % MESSAGES], 3 * i,
					  i < MESSAGES ? 10 * MIN : 50 * MIN, 100};
	play(&s, list, 2 * MESSAGES);
	assert_int_equal(found_at(&s, 50 * MIN)->networks[0].goes_on_as, NOD_NONE);
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_the_same_under_another_name_has_not_slept),
		cmocka_unit_test(test_it_sleeps_under_its_new_name),
		cmocka_unit_test(test_a_lone_talker_is_known_by_its_turn),
		cmocka_unit_test(test_others_are_another_network),
		cmocka_unit_test(test_both_at_once_are_two),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
