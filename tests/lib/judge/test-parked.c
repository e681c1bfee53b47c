/* SPDX-License-Identifier: MIT */
#include "scene.h"

#define S 1000
#define MIN (60 * S)

/* Twelve messages, so that it is no module on a bench; the first `stopped` end at two minutes. */
#define MESSAGES 12

static void list_car(struct cyclic list[MESSAGES], int stopped, int64_t to)
{
	static const char *const texts[MESSAGES] = {"100#00", "110#00", "120#00", "130#00",
						    "140#00", "150#00", "160#00", "170#00",
						    "180#00", "190#00", "1A0#00", "1B0#00"};

	for (int i = 0; i < MESSAGES; i++)
		list[i] = (struct cyclic){0, texts[i], i * 7, i < stopped ? 2 * MIN + i * 1300 : to,
					  200};
}

static void car(struct scene *s, int stopped, int64_t to)
{
	struct cyclic list[MESSAGES];

	list_car(list, stopped, to);
	play(s, list, MESSAGES);
}

static const struct nod_findings *found(struct scene *s, const char *vehicle, int stopped,
					bool locked)
{
	scene_begin(s, vehicle);
	if (locked)
		nod_engine_set_lock(s->engine, (nod_time){0}, NOD_LOCK_FROM_OPTION);
	car(s, stopped, 50 * MIN);
	return found_at(s, 50 * MIN);
}

static void test_who_never_stops_may_be_switched_on(void **state)
{
	(void)state;
	struct scene s;
	const struct nod_findings *f = found(&s, NULL, 0, false);

	assert_int_equal(f->verdict, NOD_VERDICT_CANNOT_TELL);
	assert_int_equal(f->culprit, NOD_NONE);
	assert_int_equal(f->suspect_count, 0);
	assert_non_null(strstr(f->sentence, "nothing says that the car was parked"));
	assert_non_null(strstr(f->next, "--locked"));
	scene_end(&s);
}

static void test_a_lock_makes_it_a_finding(void **state)
{
	(void)state;
	struct scene s;
	assert_int_equal(found(&s, NULL, 0, true)->verdict, NOD_VERDICT_KEPT_AWAKE);
	scene_end(&s);
}

static void test_a_map_that_says_how_long_it_may_take_as_well(void **state)
{
	(void)state;
	struct scene s;
	const struct nod_findings *f = found(
		&s,
		"networks:\n  body: {interfaces: [can0], bitrate: 500000, sleeps within: 20 min}\n",
		0, false);

	assert_int_equal(f->verdict, NOD_VERDICT_KEPT_AWAKE);
	scene_end(&s);
}

static void test_so_do_messages_that_stop(void **state)
{
	(void)state;
	struct scene s;
	assert_int_equal(found(&s, NULL, 2, false)->verdict, NOD_VERDICT_CANNOT_TELL);
	scene_end(&s);
	assert_int_equal(found(&s, NULL, 4, false)->verdict, NOD_VERDICT_KEPT_AWAKE);
	scene_end(&s);
}

/* A machine at work: one network never stops, a unit on another does for a while. */
static const struct nod_findings *beside(struct scene *s, int64_t silent)
{
	struct cyclic list[MESSAGES + 2];

	scene_begin(s, NULL);
	list_car(list, 0, 50 * MIN);
	list[MESSAGES] = (struct cyclic){1, "18FEF121#00", 5, 10 * S, 100};
	list[MESSAGES + 1] = (struct cyclic){1, "18FEF121#00", 10 * S + silent, 50 * MIN, 100};
	play(s, list, MESSAGES + 2);
	return found_at(s, 50 * MIN);
}

static void test_a_short_silence_beside_others_that_talk_is_no_parked_car(void **state)
{
	(void)state;
	struct scene s;
	const struct nod_findings *f = beside(&s, 100 * S);
	assert_true(f->networks[1].spans[0].slept_after);
	assert_int_equal(f->networks[0].verdict, NOD_VERDICT_CANNOT_TELL);
	assert_null(strstr(f->sentence, "keep"));
	scene_end(&s);
	assert_int_equal(beside(&s, 10 * MIN)->networks[0].verdict, NOD_VERDICT_KEPT_AWAKE);
	scene_end(&s);
}

static void test_whom_a_machine_at_work_wakes_now_and_then_is_not_accused(void **state)
{
	(void)state;
	struct scene s;
	struct cyclic list[MESSAGES + 30];

	scene_begin(&s, NULL);
	list_car(list, 0, 60 * MIN);
	for (int i = 0; i < 30; i++)
		list[MESSAGES + i] = (struct cyclic){1, "18FEF121#00", 2 * i * MIN + 5,
						     2 * i * MIN + 30 * S, 100};
	list[MESSAGES + 29].to = 60 * MIN;
	play(&s, list, MESSAGES + 30);
	const struct nod_findings *f = found_at(&s, 60 * MIN);
	assert_true(f->wake_count > 10);
	assert_int_equal(f->verdict, NOD_VERDICT_CANNOT_TELL);
	assert_int_equal(f->culprit, NOD_NONE);
	scene_end(&s);
}

static void test_one_alone_is_not_accused(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, NULL);
	PLAY(&s, {0, "3C5#AA00", 0, 50 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 50 * MIN);
	assert_int_equal(f->verdict, NOD_VERDICT_CANNOT_TELL);
	assert_int_equal(f->culprit, NOD_NONE);
	assert_non_null(strstr(f->sentence, "bench"));
	scene_end(&s);
}

/* ISO 14229-1: TesterPresent without an answer, under an ID of the maker's choice. */
static void test_an_unanswered_tester_is_named_as_one(void **state)
{
	(void)state;
	static const char *const presences[] = {"714#023E80", "714#023E80",
						"1CEA4AF2#023E8000000000"};
	for (int locked = 0; locked < 3; locked++) {
		struct scene s;
		scene_begin(&s, NULL);
		if (locked)
			nod_engine_set_lock(s.engine, (nod_time){0}, NOD_LOCK_FROM_OPTION);
		PLAY(&s, {0, "100#00", 0, MIN, 100}, {0, "110#00", 20, 2 * MIN, 100},
		     {0, "120#00", 40, 3 * MIN, 100}, {0, presences[locked], 0, 50 * MIN, 2000});
		const struct nod_findings *f = found_at(&s, 50 * MIN);
		assert_int_equal(f->verdict, NOD_VERDICT_KEPT_AWAKE);
		assert_int_equal(f->suspects[f->culprit].role, NOD_ROLE_TESTER);
		assert_non_null(strstr(f->sentence, "tester or a dongle"));
		scene_end(&s);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_who_never_stops_may_be_switched_on),
		cmocka_unit_test(test_a_lock_makes_it_a_finding),
		cmocka_unit_test(test_a_map_that_says_how_long_it_may_take_as_well),
		cmocka_unit_test(test_so_do_messages_that_stop),
		cmocka_unit_test(test_a_short_silence_beside_others_that_talk_is_no_parked_car),
		cmocka_unit_test(test_whom_a_machine_at_work_wakes_now_and_then_is_not_accused),
		cmocka_unit_test(test_one_alone_is_not_accused),
		cmocka_unit_test(test_an_unanswered_tester_is_named_as_one),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
