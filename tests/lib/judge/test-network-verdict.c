/* SPDX-License-Identifier: MIT */
#include "scene.h"

#define MIN (60 * 1000)
#define MS NOD_NS_PER_MS

static const char two[] =
	"networks:\n"
	"  body: { interfaces: [can0], bitrate: 500000, sleeps within: 10 min, quiet time: 3 s }\n"
	"  drive: { interfaces: [can1], bitrate: 500000, sleeps within: 10 min, quiet time: 3 s }\n";

static void begin(struct scene *s)
{
	scene_begin(s, two);
	mark_at(s, 0, NOD_MARK_LOCKED, "");
}

static void test_asleep_before_the_deadline_is_in_time(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "100#00", 0, 9 * MIN, 100});
	const struct nod_network_finding *n = &found_at(&s, 30 * MIN)->networks[0];
	assert_int_equal(n->verdict, NOD_VERDICT_SLEEPS);
	assert_int_equal(n->deadline.ns, 10 * MIN * MS);
	assert_int_equal(n->awake_late.ns, 0);
	assert_int_equal(n->asleep_known.ns, (21 * MIN + 100) * MS);
	assert_int_equal(n[1].judged_by.ns, 10 * MIN * MS); /* nothing was heard of it */
	scene_end(&s);
}

/* Kept awake past its deadline; then a door starts the settle clock anew: the deadline that
 * was missed is the one that is spoken of. */
static void test_the_deadline_shown_is_the_one_that_was_missed(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "100#00", 0, 20 * MIN, 100});
	mark_at(&s, 20 * MIN, NOD_MARK_DOOR, "left");
	PLAY(&s, {0, "100#00", 20 * MIN, 22 * MIN, 100});
	const struct nod_network_finding *n = &found_at(&s, 22 * MIN - 100)->networks[0];
	assert_int_equal(n->verdict, NOD_VERDICT_KEPT_AWAKE);
	assert_int_equal(n->deadline.ns, 30 * MIN * MS);
	assert_int_equal(n->judged_by.ns, 10 * MIN * MS);
	scene_end(&s);
}

/* The deadline is somebody's round figure. */
static void test_a_second_past_the_deadline_is_not_late(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "100#00", 0, 10 * MIN + 1500, 100}, {1, "200#00", 0, 10 * MIN + 5000, 100});
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_int_equal(f->networks[0].verdict, NOD_VERDICT_SLEEPS);
	assert_int_equal(f->networks[1].verdict, NOD_VERDICT_LATE);
	scene_end(&s);
}

/* Lateness counts in proportion to the time that the map gives. */
static void test_ten_seconds_after_ten_minutes_is_slept_late(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "100#00", 0, 10 * MIN + 10000, 100}, {1, "200#00", 0, 9 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 60 * MIN);
	assert_int_equal(f->verdict, NOD_VERDICT_LATE);
	assert_int_equal(f->culprit, NOD_NONE);
	assert_non_null(strstr(f->sentence, "9.9 s after its deadline (10 min 00 s), 2 % later"));
	scene_end(&s);
}

/* ... but where something was pulled it may have slept because of that. */
static void test_asleep_after_an_isolation_is_not_slept_late(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "100#00", 0, 11 * MIN, 100});
	mark_at(&s, 11 * MIN, NOD_MARK_ISOLATED, "F1");
	const struct nod_findings *f = found_at(&s, 60 * MIN);
	assert_int_equal(f->networks[0].verdict, NOD_VERDICT_KEPT_AWAKE);
	scene_end(&s);
}

static void test_each_network_is_judged_by_itself(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "100#00", 0, 2 * MIN, 100}, {1, "200#00", 0, 20 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 20 * MIN - 100);
	assert_int_equal(f->networks[0].verdict, NOD_VERDICT_SLEEPS);
	assert_int_equal(f->networks[1].verdict, NOD_VERDICT_KEPT_AWAKE);
	assert_int_equal(f->networks[1].awake_late.ns, (10 * MIN - 100) * MS);
	assert_int_equal(f->verdict, NOD_VERDICT_KEPT_AWAKE);
	assert_non_null(strstr(f->networks[1].reason, "past its settle deadline"));
	scene_end(&s);
}

static void test_late_and_then_asleep_was_kept_awake(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "100#00", 0, 25 * MIN, 100});
	const struct nod_network_finding *n = &found_at(&s, 60 * MIN)->networks[0];
	assert_int_equal(n->verdict, NOD_VERDICT_KEPT_AWAKE);
	assert_int_equal(n->state, NOD_STATE_ASLEEP);
	assert_non_null(strstr(n->reason, "and slept at"));
	scene_end(&s);
}

static void test_woken_again_and_again_is_woken(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "100#00", 0, MIN, 100});
	for (int64_t t = 15 * MIN; t < 60 * MIN; t += 10 * MIN)
		PLAY(&s, {0, "100#00", t, t + 30000, 100});
	const struct nod_network_finding *n = &found_at(&s, 60 * MIN)->networks[0];
	assert_int_equal(n->verdict, NOD_VERDICT_WOKEN);
	assert_int_equal(n->wakes, 5);
	scene_end(&s);
}

/* A wake-up after sleep is no failure to sleep, however late it is. */
static void test_a_wakeup_past_the_deadline_is_not_kept_awake(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "100#00", 0, MIN, 100});
	PLAY(&s, {0, "100#00", 30 * MIN, 32 * MIN, 100});
	const struct nod_network_finding *n = &found_at(&s, 60 * MIN)->networks[0];
	assert_int_equal(n->verdict, NOD_VERDICT_WOKEN);
	assert_int_equal(n->awake_late.ns, (2 * MIN - 100) * MS);
	scene_end(&s);
}

static void test_one_short_wakeup_in_a_night_does_not_matter(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "100#00", 0, MIN, 100});
	PLAY(&s, {0, "100#00", 300 * MIN, 300 * MIN + 2000, 100});
	const struct nod_network_finding *n = &found_at(&s, 600 * MIN)->networks[0];
	assert_int_equal(n->verdict, NOD_VERDICT_SLEEPS);
	assert_int_equal(n->wakes, 1); /* listed all the same */
	scene_end(&s);
}

static void test_what_a_door_explains_does_not_count(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "100#00", 0, MIN, 100});
	mark_at(&s, 20 * MIN, NOD_MARK_DOOR, "right");
	PLAY(&s, {0, "100#00", 20 * MIN + 500, 29 * MIN, 100});
	const struct nod_network_finding *n = &found_at(&s, 60 * MIN)->networks[0];
	assert_int_equal(n->verdict, NOD_VERDICT_SLEEPS);
	assert_int_equal(n->deadline.ns, 30 * MIN * MS); /* it settles anew */
	scene_end(&s);
}

static void test_awake_before_the_deadline_cannot_be_judged(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "100#00", 0, 8 * MIN, 100});
	const struct nod_network_finding *n = &found_at(&s, 8 * MIN - 100)->networks[0];
	assert_int_equal(n->verdict, NOD_VERDICT_CANNOT_TELL);
	assert_non_null(strstr(n->reason, "deadline is 2 min"));
	scene_end(&s);
}

static void test_an_unlocked_car_cannot_be_judged(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "100#00", 0, 5 * MIN, 100});
	mark_at(&s, 5 * MIN, NOD_MARK_UNLOCKED, "");
	PLAY(&s, {0, "100#00", 5 * MIN, 40 * MIN, 100});
	const struct nod_network_finding *n = &found_at(&s, 40 * MIN - 100)->networks[0];
	assert_int_equal(n->verdict, NOD_VERDICT_CANNOT_TELL);
	assert_string_equal(n->reason, "The car was not locked at the end.");
	scene_end(&s);
}

static void test_without_a_vehicle_file_the_default_deadline_is_said_to_be_one(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, NULL);
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, 39 * MIN, 100});
	const struct nod_network_finding *n = &found_at(&s, 39 * MIN - 100)->networks[0];
	assert_true(n->deadline_default);
	assert_int_equal(n->deadline.ns, 40 * MIN * MS);
	assert_int_equal(n->verdict, NOD_VERDICT_CANNOT_TELL);
	scene_end(&s);
}

/* At a wrong bitrate nothing else is heard: no bench, no waiting, nothing kept awake. */
static void test_error_frames_alone_say_nothing_of_sleep(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	struct nod_event event = {.kind = NOD_EVENT_FRAME};
	event.frame.id = NOD_ID_ERROR | 0x88;
	event.frame.length = 8;
	for (int64_t ms = 0; ms < 30 * MIN; ms += 100) {
		event.time.ns = event.frame.time.ns = ms * MS;
		scene_take(&s, &event);
	}
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_int_equal(f->networks[0].verdict, NOD_VERDICT_CANNOT_TELL);
	assert_non_null(strstr(f->networks[0].reason, "Nothing but error frames"));
	assert_non_null(strstr(f->next, "Check bitrate"));
	assert_int_equal(f->culprit, NOD_NONE);
	scene_end(&s);
}

/* One frame at the end of a night: it is known how it woke, and not what becomes of it. */
static void test_awake_at_the_end_after_a_heard_wakeup(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "100#00", 0, 5 * MIN, 100}, {0, "200#00", 10, 4 * MIN, 100},
	     {0, "100#00", 600 * MIN, 600 * MIN + 500, 100});
	const struct nod_network_finding *n = &found_at(&s, 600 * MIN + 500)->networks[0];
	assert_int_equal(n->verdict, NOD_VERDICT_CANNOT_TELL);
	assert_non_null(strstr(n->reason, "was woken again; at the end it was awake since"));
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_asleep_before_the_deadline_is_in_time),
		cmocka_unit_test(test_the_deadline_shown_is_the_one_that_was_missed),
		cmocka_unit_test(test_a_second_past_the_deadline_is_not_late),
		cmocka_unit_test(test_ten_seconds_after_ten_minutes_is_slept_late),
		cmocka_unit_test(test_asleep_after_an_isolation_is_not_slept_late),
		cmocka_unit_test(test_each_network_is_judged_by_itself),
		cmocka_unit_test(test_late_and_then_asleep_was_kept_awake),
		cmocka_unit_test(test_woken_again_and_again_is_woken),
		cmocka_unit_test(test_a_wakeup_past_the_deadline_is_not_kept_awake),
		cmocka_unit_test(test_one_short_wakeup_in_a_night_does_not_matter),
		cmocka_unit_test(test_what_a_door_explains_does_not_count),
		cmocka_unit_test(test_error_frames_alone_say_nothing_of_sleep),
		cmocka_unit_test(test_awake_at_the_end_after_a_heard_wakeup),
		cmocka_unit_test(test_awake_before_the_deadline_cannot_be_judged),
		cmocka_unit_test(test_an_unlocked_car_cannot_be_judged),
		cmocka_unit_test(
			test_without_a_vehicle_file_the_default_deadline_is_said_to_be_one),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
