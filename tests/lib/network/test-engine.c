/* SPDX-License-Identifier: MIT */
#include "scene.h"

#define MIN (60 * 1000)

static const char body[] = "networks:\n"
			   "  body:\n"
			   "    interfaces: [can0]\n"
			   "    bitrate: 500000\n"
			   "    sleeps within: 10 min\n"
			   "    quiet time: 3 s\n"
			   "    management: { scheme: none }\n"
			   "modules:\n"
			   "  roof unit: { ids: [100], fuses: [F1] }\n"
			   "  seat unit: { ids: [200], fuses: [F2] }\n"
			   "  door unit: { ids: [300], fuses: [F3] }\n"
			   "fuses:\n"
			   "  F1: { rating: 10 A }\n"
			   "  F2: { rating: 15 A, box: cabin }\n"
			   "  F3: { rating: 5 A }\n";

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

static void test_silence_beside_lost_frames_is_not_sleep(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, body);
	mark_at(&s, 0, NOD_MARK_STARTED, "");
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, MIN, 100});
	loss_at(&s, MIN - 100, 0);
	const struct nod_findings *f = found_at(&s, 40 * MIN);
	assert_int_equal(f->verdict, NOD_VERDICT_CANNOT_TELL);
	assert_int_equal(f->networks[0].state, NOD_STATE_UNKNOWN);
	assert_int_equal(f->lost, 7);
	scene_end(&s);
}

static void test_a_gap_in_the_listening_is_not_sleep(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, body);
	mark_at(&s, 0, NOD_MARK_STARTED, "");
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, MIN, 100});
	mark_at(&s, 39 * MIN, NOD_MARK_GAP, "can0 38 min");
	PLAY(&s, {0, "100#00", 39 * MIN + 50, 40 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 40 * MIN - 100);
	assert_int_equal(f->networks[0].wakes, 0);
	assert_int_equal(f->gaps, 1);
	assert_int_equal(f->networks[0].asleep_known.ns, 0);
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

static void test_nothing_heard_is_not_asleep(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, body);
	mark_at(&s, 0, NOD_MARK_STARTED, "");
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	const struct nod_findings *f = found_at(&s, 60 * MIN);
	assert_int_equal(f->verdict, NOD_VERDICT_CANNOT_TELL);
	assert_int_equal(f->networks[0].state, NOD_STATE_NOTHING_HEARD);
	assert_non_null(strstr(f->networks[0].reason, "not the same as asleep"));
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

/* Frames stamped by the clock that was set back come before the entry that says by how
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

/* The adapter is pulled out of a car that talks, and nothing more is known, whether it is
 * asked at once, later, or never put back. */
static void test_where_nobody_listens_there_is_no_sleep(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, body);
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, 5 * MIN, 100});
	mark_at(&s, 5 * MIN, NOD_MARK_DEAF, "can0");
	for (int64_t t = 5 * MIN; t <= 50 * MIN; t += 500) {
		const struct nod_findings *f = found_at(&s, t);
		assert_int_equal(f->verdict, NOD_VERDICT_CANNOT_TELL);
		assert_int_equal(f->networks[0].state, NOD_STATE_UNKNOWN);
		assert_int_equal(f->networks[0].deaf_since.ns / NOD_NS_PER_MS, 5 * MIN);
	}
	assert_non_null(strstr(s.found->sentence, "Nobody has listened to body since"));
	mark_at(&s, 50 * MIN, NOD_MARK_GAP, "can0 2700 s");
	PLAY(&s, {0, "100#00", 50 * MIN, 51 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 51 * MIN);
	assert_int_equal(f->networks[0].state, NOD_STATE_AWAKE);
	assert_false(nod_time_is_set(f->networks[0].deaf_since));
	assert_int_equal(f->wake_count, 0);
	assert_int_equal(found_at(&s, 60 * MIN)->networks[0].state, NOD_STATE_ASLEEP);
	scene_end(&s);
}

/* What was heard before counts; a frame says that somebody listens again. */
static void test_sleep_heard_before_nobody_listened(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, body);
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, 5 * MIN, 100});
	mark_at(&s, 20 * MIN, NOD_MARK_DEAF, "can1"); /* another's */
	assert_int_equal(found_at(&s, 25 * MIN)->networks[0].state, NOD_STATE_ASLEEP);
	mark_at(&s, 25 * MIN, NOD_MARK_DEAF, "all");
	const struct nod_findings *f = found_at(&s, 40 * MIN);
	assert_int_equal(f->verdict, NOD_VERDICT_SLEEPS);
	assert_int_equal(f->networks[0].state, NOD_STATE_UNKNOWN);
	assert_int_equal(f->networks[0].slept_until.ns / NOD_NS_PER_MS, 25 * MIN);
	assert_int_equal(f->networks[0].asleep_known.ns / NOD_NS_PER_MS, 20 * MIN + 100);
	assert_non_null(strstr(f->sentence, "slept in time; nobody has listened to body since"));
	mark_at(&s, 41 * MIN, NOD_MARK_GAP, "can0 960 s"); /* the end of the recording */
	assert_int_equal(found_at(&s, 41 * MIN)->verdict, NOD_VERDICT_SLEEPS);
	frame_at(&s, 45 * MIN, 0, "100#00");
	f = found_at(&s, 45 * MIN);
	assert_int_equal(f->networks[0].state, NOD_STATE_AWAKE);
	assert_false(nod_time_is_set(f->networks[0].slept_until));
	scene_end(&s);
}

/* What the recording says of its end is read ahead of the journal: nobody listened only as
 * long as the journal says. */
static void test_nobody_listened_no_longer_than_told(void **state)
{
	(void)state;
	struct scene s;
	struct nod_event ended = {.kind = NOD_EVENT_HEADER};

	scene_begin(&s, NULL);
	mark_at(&s, 0, NOD_MARK_STARTED, "");
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	for (int64_t ms = 0; ms < 10000; ms += 100)
		frame_at(&s, ms, 0, "100#00");
	ended.header.key = "ended";
	ended.header.value = "30.000000";
	scene_take(&s, &ended);
	mark_at(&s, 17000, NOD_MARK_DEAF, "can0");
	mark_at(&s, 18000, NOD_MARK_GAP, "can0 1 s");
	const struct nod_findings *f = found_at(&s, 30000);
	assert_int_equal(f->networks[0].state, NOD_STATE_ASLEEP);
	assert_int_equal(f->networks[0].since.ns, 18 * NOD_NS_PER_S);
	scene_end(&s);
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
		cmocka_unit_test(test_silence_beside_lost_frames_is_not_sleep),
		cmocka_unit_test(test_a_gap_in_the_listening_is_not_sleep),
		cmocka_unit_test(test_a_clock_step_is_made_up_for),
		cmocka_unit_test(test_a_tester_is_never_a_car_fault),
		cmocka_unit_test(test_nothing_heard_is_not_asleep),
		cmocka_unit_test(test_isolating_the_holder_both_ways_is_proof),
		cmocka_unit_test(test_isolating_an_innocent_exonerates_it),
		cmocka_unit_test(test_looking_often_changes_nothing),
		cmocka_unit_test(test_a_step_told_after_the_first_frames),
		cmocka_unit_test(test_where_nobody_listens_there_is_no_sleep),
		cmocka_unit_test(test_sleep_heard_before_nobody_listened),
		cmocka_unit_test(test_nobody_listened_no_longer_than_told),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
