/* SPDX-License-Identifier: MIT */
#include "body-car.h"

static void test_a_car_that_sleeps_in_time(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, body);
	mark_at(&s, 1000, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 1000, 5 * MIN, 100}, {0, "200#00", 1050, 5 * MIN, 200});
	const struct nod_findings *f = found_at(&s, 40 * MIN);
	assert_int_equal(f->verdict, NOD_VERDICT_SLEEPS);
	assert_int_equal(f->networks[0].state, NOD_STATE_ASLEEP);
	assert_int_equal(f->networks[0].slept_at.ns, (5 * MIN - 100) * NOD_NS_PER_MS);
	assert_int_equal(f->lock_source, NOD_LOCK_FROM_JOURNAL);
	assert_int_equal(f->suspects[0].kind, NOD_SUSPECT_NOTHING);
	scene_end(&s);
}

/* The last frame of a capture is the end of what is known, not sleep. */
static void test_a_recording_that_ends_awake_cannot_tell(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, body);
	mark_at(&s, 0, NOD_MARK_STARTED, "");
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, 5 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 0);
	assert_int_equal(f->verdict, NOD_VERDICT_CANNOT_TELL);
	assert_int_equal(f->networks[0].state, NOD_STATE_AWAKE);
	/* 10 min deadline and 3 s quiet time, 5 min less one period recorded */
	assert_int_equal(f->record_longer.ns, (5 * MIN + 100 + 3000) * NOD_NS_PER_MS);
	assert_non_null(strstr(f->next, "record for at least"));
	scene_end(&s);
}

static void test_a_lone_talker_is_the_holder(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, body);
	mark_at(&s, 0, NOD_MARK_STARTED, "");
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, 2 * MIN, 100}, {0, "200#00", 10, 30 * MIN, 200},
	     {0, "300#00", 20, 2 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_int_equal(f->verdict, NOD_VERDICT_KEPT_AWAKE);
	assert_string_equal(f->suspects[0].name, "seat unit");
	assert_int_equal(f->suspects[0].role, NOD_ROLE_HOLDER);
	assert_true(f->suspects[0].probability > 0.9);
	assert_non_null(strstr(f->sentence, "seat unit keeps body awake"));
	assert_string_equal(f->proposals[0].what, "fuse F2 (15 A, cabin box)");
	scene_end(&s);
}

/* Everybody talks on because the bus is awake: nobody is accused. */
static void test_followers_are_not_accused(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, body);
	mark_at(&s, 0, NOD_MARK_STARTED, "");
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, 30 * MIN, 100}, {0, "200#00", 10, 30 * MIN, 200},
	     {0, "300#00", 20, 30 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_int_equal(f->verdict, NOD_VERDICT_KEPT_AWAKE);
	assert_int_equal(f->culprit, NOD_NONE);
	for (size_t i = 0; i < f->suspect_count; i++)
		assert_true(f->suspects[i].probability < 0.5);
	assert_true(f->proposal_count >= 3);
	scene_end(&s);
}

static void test_the_first_speaker_of_wakeups_is_the_waker(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, body);
	mark_at(&s, 0, NOD_MARK_STARTED, "");
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, MIN, 100}, {0, "200#00", 10, MIN, 100});
	for (int64_t t = 12 * MIN; t < 60 * MIN; t += 8 * MIN)
		PLAY(&s, {0, "300#00", t, t + 20000, 100}, {0, "100#00", t + 60, t + 20000, 100},
		     {0, "200#00", t + 90, t + 20000, 100});
	const struct nod_findings *f = found_at(&s, 60 * MIN);
	assert_int_equal(f->verdict, NOD_VERDICT_WOKEN);
	assert_int_equal(f->wake_count, 6);
	assert_int_equal(f->wakes[0].time.ns, 12 * MIN * NOD_NS_PER_MS);
	assert_int_equal(f->wakes[0].lead.ns, 60 * NOD_NS_PER_MS);
	assert_string_equal(f->suspects[0].name, "door unit");
	assert_int_equal(f->suspects[0].role, NOD_ROLE_WAKER);
	/* not more: a wake-up line would make the fastest starter speak first, too */
	assert_true(f->suspects[0].probability > 0.8 && f->suspects[0].probability < 0.95);
	scene_end(&s);
}

static void test_a_door_explains_a_wakeup_and_restarts_the_clock(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, body);
	mark_at(&s, 0, NOD_MARK_STARTED, "");
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, MIN, 100}, {0, "200#00", 10, MIN, 100});
	mark_at(&s, 20 * MIN, NOD_MARK_DOOR, "left");
	PLAY(&s, {0, "100#00", 20 * MIN + 300, 25 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 60 * MIN);
	assert_int_equal(f->verdict, NOD_VERDICT_SLEEPS);
	assert_int_equal(f->networks[0].wakes, 0);
	assert_int_equal(f->networks[0].wakes_explained, 1);
	assert_string_equal(f->wakes[0].cause, "door left");
	assert_int_equal(f->clock_from.ns, 20 * MIN * NOD_NS_PER_MS);
	scene_end(&s);
}

static void test_a_clock_step_is_made_up_for(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, body);
	mark_at(&s, 0, NOD_MARK_STARTED, "");
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, MIN, 100});
	mark_at(&s, 61 * MIN, NOD_MARK_CLOCK_STEP, "+3600 s");
	PLAY(&s, {0, "100#00", 61 * MIN, 62 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 62 * MIN - 100);
	assert_int_equal(f->clock_steps, 1);
	assert_int_equal(f->end.ns, (2 * MIN - 100) * NOD_NS_PER_MS);
	assert_int_equal(f->networks[0].wakes, 0);
	assert_int_equal(f->verdict, NOD_VERDICT_CANNOT_TELL);
	scene_end(&s);
}

static void test_a_tester_is_never_a_car_fault(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, body);
	mark_at(&s, 0, NOD_MARK_STARTED, "");
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "7DF#023E800000000000", 0, 30 * MIN, 2000}, {0, "100#00", 0, 30 * MIN, 100},
	     {0, "200#00", 10, 30 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_int_equal(f->verdict, NOD_VERDICT_KEPT_AWAKE);
	assert_int_equal(f->suspects[0].role, NOD_ROLE_TESTER);
	assert_non_null(strstr(f->sentence, "not a fault of the car"));
	assert_non_null(strstr(f->next, "Disconnect the tester"));
	scene_end(&s);
}

static void test_isolating_the_holder_both_ways_is_proof(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, body);
	mark_at(&s, 0, NOD_MARK_STARTED, "");
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, 20 * MIN, 100}, {0, "200#00", 10, 20 * MIN, 100},
	     {0, "300#00", 20, 20 * MIN, 100});
	mark_at(&s, 20 * MIN, NOD_MARK_ISOLATED, "F2");
	PLAY(&s, {0, "100#00", 20 * MIN, 20 * MIN + 15000, 100},
	     {0, "300#00", 20 * MIN + 20, 20 * MIN + 15000, 100});
	mark_at(&s, 30 * MIN, NOD_MARK_REFITTED, "fuse F2");
	PLAY(&s, {0, "200#00", 30 * MIN, 50 * MIN, 100},
	     {0, "100#00", 30 * MIN + 30, 50 * MIN, 100},
	     {0, "300#00", 30 * MIN + 50, 50 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 50 * MIN - 100);
	assert_int_equal(f->isolation_count, 1);
	assert_int_equal(f->isolations[0].result, NOD_ISOLATION_PROVED);
	assert_int_equal(f->isolations[0].vanished_count, 1);
	assert_int_equal(f->idents[f->isolations[0].vanished[0]].id, 0x200);
	assert_string_equal(f->suspects[0].name, "seat unit");
	assert_true(f->suspects[0].proved);
	assert_true(f->suspects[0].probability > 0.95);
	assert_non_null(strstr(f->next, "Repair seat unit"));
	scene_end(&s);
}

static void test_isolating_an_innocent_exonerates_it(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, body);
	mark_at(&s, 0, NOD_MARK_STARTED, "");
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, 20 * MIN, 100}, {0, "200#00", 10, 20 * MIN, 100},
	     {0, "300#00", 20, 20 * MIN, 100});
	mark_at(&s, 20 * MIN, NOD_MARK_ISOLATED, "roof unit");
	PLAY(&s, {0, "200#00", 20 * MIN, 32 * MIN, 100},
	     {0, "300#00", 20 * MIN + 20, 32 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 32 * MIN - 100);
	assert_int_equal(f->isolations[0].result, NOD_ISOLATION_UNCHANGED);
	for (size_t i = 0; i < f->suspect_count; i++)
		if (!strcmp(f->suspects[i].name, "roof unit"))
			assert_true(f->suspects[i].probability < 0.02);
	for (size_t i = 0; i < f->proposal_count; i++)
		assert_int_not_equal(f->proposals[i].module, 0);
	scene_end(&s);
}

/* The same events, with or without extra advances and looks in between, give
 * the same bytes. */
static void test_looking_often_changes_nothing(void **state)
{
	(void)state;
	char *texts[2];

	for (int often = 0; often < 2; often++) {
		struct scene s;
		scene_begin(&s, body);
		mark_at(&s, 0, NOD_MARK_STARTED, "");
		mark_at(&s, 0, NOD_MARK_LOCKED, "");
		for (int64_t t = 0; t < 14 * MIN; t += 700) {
			frame_at(&s, t, 0, t % 1400 ? "100#0011" : "200#01");
			if (t == 6 * MIN + 300 - 300 % 700)
				t += MIN;
			if (often)
				found_at(&s, t + 350);
		}
		texts[often] = answer_text(found_at(&s, 20 * MIN));
		scene_end(&s);
	}
	assert_string_equal(texts[0], texts[1]);
	free(texts[0]);
	free(texts[1]);
}

/* Frames stamped by the clock that was set back come before the mark that says by how
 * much: they are made up for at once, and not once more when it comes. */
static void test_a_step_told_after_the_first_frames(void **state)
{
	(void)state;
	for (int late = 0; late <= 1000; late += 200) {
		struct scene s;
		scene_begin(&s, body);
		mark_at(&s, 0, NOD_MARK_LOCKED, "");
		PLAY(&s, {0, "100#00", 0, 60 * MIN, 100});
		PLAY(&s, {0, "100#00", 50 * MIN, 50 * MIN + late, 100});
		mark_at(&s, 50 * MIN + late, NOD_MARK_CLOCK_STEP, "-600 s");
		PLAY(&s, {0, "100#00", 50 * MIN + late, 55 * MIN, 100});
		const struct nod_findings *f = found_at(&s, 60 * MIN);
		assert_int_equal(f->networks[0].span_count, 1);
		assert_int_equal(f->networks[0].spans[0].to.ns / NOD_NS_PER_MS, 65 * MIN - 100);
		assert_int_equal(f->clock_steps, 1);
		scene_end(&s);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_a_car_that_sleeps_in_time),
		cmocka_unit_test(test_a_recording_that_ends_awake_cannot_tell),
		cmocka_unit_test(test_a_lone_talker_is_the_holder),
		cmocka_unit_test(test_followers_are_not_accused),
		cmocka_unit_test(test_the_first_speaker_of_wakeups_is_the_waker),
		cmocka_unit_test(test_a_door_explains_a_wakeup_and_restarts_the_clock),
		cmocka_unit_test(test_a_clock_step_is_made_up_for),
		cmocka_unit_test(test_a_tester_is_never_a_car_fault),
		cmocka_unit_test(test_isolating_the_holder_both_ways_is_proof),
		cmocka_unit_test(test_isolating_an_innocent_exonerates_it),
		cmocka_unit_test(test_looking_often_changes_nothing),
		cmocka_unit_test(test_a_step_told_after_the_first_frames),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
