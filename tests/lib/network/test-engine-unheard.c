/* SPDX-License-Identifier: MIT */
/* Where nobody listened, or frames were lost, silence is not sleep. */
#include "body-car.h"

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

/* A capture says when its recording ended behind its frames, or in its head. */
static void test_the_head_says_when_it_ended(void **state)
{
	(void)state;
	struct scene s;
	struct nod_event ended = {.kind = NOD_EVENT_HEADER};

	scene_begin(&s, NULL);
	ended.header.key = "ended";
	ended.header.value = "3000.000000";
	scene_take(&s, &ended);
	for (int64_t ms = 0; ms < 10000; ms += 100)
		frame_at(&s, ms, 0, "100#00");
	s.found = nod_engine_findings(s.engine);
	assert_non_null(s.found);
	assert_int_equal(s.found->end.ns, 3000 * NOD_NS_PER_S);
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_silence_beside_lost_frames_is_not_sleep),
		cmocka_unit_test(test_a_gap_in_the_listening_is_not_sleep),
		cmocka_unit_test(test_nothing_heard_is_not_asleep),
		cmocka_unit_test(test_where_nobody_listens_there_is_no_sleep),
		cmocka_unit_test(test_sleep_heard_before_nobody_listened),
		cmocka_unit_test(test_nobody_listened_no_longer_than_told),
		cmocka_unit_test(test_the_head_says_when_it_ended),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
