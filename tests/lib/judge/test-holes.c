/* SPDX-License-Identifier: MIT */
#include "scene.h"

#define S 1000
#define MIN (60 * S)

/* Ten senders on each of two networks, each with its own phase. */
#define SENDERS 10

static void add(struct cyclic *list, size_t *count, int interface, int64_t from, int64_t to,
		int first, int64_t stagger)
{
	static const char *const texts[SENDERS] = {"100#00", "110#00", "120#00", "130#00",
						   "140#00", "150#00", "160#00", "170#00",
						   "180#00", "190#00"};
	static const int64_t periods[SENDERS] = {20, 50, 100, 100, 200, 200, 500, 500, 1000, 1000};

	for (int i = first; i < SENDERS; i++)
		list[(*count)++] = (struct cyclic){interface, texts[i],
						   from + (i * 37) % periods[i],
						   to - stagger * (SENDERS - 1 - i), periods[i]};
}

/* From its running begin to `to`; a cut off of all; back in the same rhythm. */
static void rhythm(struct scene *s, int64_t from, int64_t to)
{
	struct cyclic list[2 * SENDERS];
	size_t count = 0;

	add(list, &count, 0, from, to, 0, 0);
	add(list, &count, 1, from + 3, to, 0, 0);
	play(s, list, count);
}

/* They stop one after the other. */
static void run_down(struct scene *s, int64_t from, int64_t to)
{
	struct cyclic list[2 * SENDERS];
	size_t count = 0;

	add(list, &count, 0, from, to, 0, 700);
	add(list, &count, 1, from + 3, to - 4 * S, 0, 700);
	play(s, list, count);
}

/* One begins, the others are there when they have booted. */
static void boot(struct scene *s, int64_t from, int64_t to)
{
	struct cyclic list[2 * SENDERS];
	size_t count = 0;

	for (int i = 0; i < SENDERS; i++) {
		struct cyclic one[SENDERS];
		size_t n = 0;
		add(one, &n, 0, 0, 0, i, 0);
		list[count] = one[0];
		list[count].from = from + 230 * i + i * i;
		list[count++].to = to - 700 * (SENDERS - i);
	}
	play(s, list, count);
}

static void test_a_hole_is_no_sleep(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, NULL);
	rhythm(&s, 0, 100 * S);
	rhythm(&s, 400 * S + 11, 500 * S);
	const struct nod_findings *f = found_at(&s, 500 * S);
	for (int n = 0; n < 2; n++) {
		assert_int_equal(f->networks[n].span_count, 2);
		assert_false(f->networks[n].spans[0].slept_after);
		assert_false(f->networks[n].spans[0].silence_known);
		assert_false(f->networks[n].spans[1].slept_before);
		assert_false(nod_time_is_set(f->networks[n].first_slept_at));
		assert_int_equal(f->networks[n].asleep_known.ns, 0);
	}
	assert_int_equal(f->wake_count, 0);
	assert_int_equal(f->hole_count, 1);
	assert_int_equal(f->holes[0].network, NOD_NONE);
	assert_true(f->holes[0].probability > 0.9);
	assert_int_equal(f->verdict, NOD_VERDICT_CANNOT_TELL);
	assert_non_null(strstr(f->doubts[0], "breaks off in the middle of its rhythm"));
	assert_non_null(strstr(f->doubts[0], "and is back in the middle of it"));
	scene_end(&s);
}

/* Longer than the time that is given to sleep: what is heard behind it counts for itself. */
static void test_behind_a_long_hole_the_deadline_is_not_missed_at_once(void **state)
{
	(void)state;
	for (int long_enough = 0; long_enough < 2; long_enough++) {
		struct scene s;
		int64_t end = 100 * MIN + (long_enough ? 45 * MIN : 30 * S);
		scene_begin(&s, NULL);
		nod_engine_set_lock(s.engine, (nod_time){1}, NOD_LOCK_FROM_OPTION);
		rhythm(&s, 0, 100 * S);
		rhythm(&s, 100 * MIN + 11, end);
		const struct nod_findings *f = found_at(&s, end);
		assert_int_equal(f->verdict,
				 long_enough ? NOD_VERDICT_KEPT_AWAKE : NOD_VERDICT_CANNOT_TELL);
		if (!long_enough)
			assert_int_equal(f->culprit, NOD_NONE);
		scene_end(&s);
	}
}

static void test_a_sleep_in_order_and_a_wakeup_in_order_are_claimed(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, NULL);
	run_down(&s, 0, 100 * S);
	boot(&s, 400 * S, 430 * S);
	const struct nod_findings *f = found_at(&s, 20 * MIN);
	assert_true(f->networks[0].spans[0].slept_after);
	assert_true(f->networks[0].spans[0].silence_known);
	assert_true(f->networks[0].spans[1].slept_before);
	assert_int_equal(f->wake_count, 1);
	assert_int_equal(f->hole_count, 0);
	assert_int_equal(f->networks[1].state, NOD_STATE_ASLEEP);
	scene_end(&s);
}

/* It slept, and how that ended nobody heard. */
static void test_asleep_and_then_not_listened_to(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, NULL);
	run_down(&s, 0, 100 * S);
	rhythm(&s, 400 * S + 7, 500 * S);
	const struct nod_findings *f = found_at(&s, 500 * S);
	assert_true(f->networks[0].spans[0].slept_after);
	assert_false(f->networks[0].spans[0].silence_known);
	assert_false(f->networks[0].spans[1].slept_before);
	assert_int_equal(f->wake_count, 0);
	scene_end(&s);
}

static void test_what_stops_at_once_at_the_end_is_not_asleep(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, NULL);
	rhythm(&s, 0, 100 * S);
	const struct nod_findings *f = found_at(&s, 60 * MIN);
	assert_int_equal(f->networks[0].state, NOD_STATE_UNKNOWN);
	assert_int_equal(f->verdict, NOD_VERDICT_CANNOT_TELL);
	assert_non_null(strstr(f->networks[0].reason, "all at once"));
	scene_end(&s);
}

/* A recorder that tells its gaps had none: then it is silence. */
/* Somebody switches: two dozen fast messages run on, and half as many stop one after the other
 * or begin. */
#define FAST 24
#define SWITCHED 12

static void switching(struct scene *s, int64_t from, int64_t to)
{
	struct cyclic list[FAST + SWITCHED];
	static char texts[FAST + SWITCHED][8];

	for (int i = 0; i < FAST + SWITCHED; i++) {
		bool fast = i < FAST;
		snprintf(texts[i], sizeof(texts[i]), "%03X#00", 0x100 + i);
		list[i] = (struct cyclic){0, texts[i], from + (fast ? i % 20 : 300 + 90 * i),
					  fast ? to : to - 700 * (i - FAST + 1), 20};
	}
	play(s, list, FAST + SWITCHED);
}

static void test_who_is_switched_while_the_others_run_is_not_asleep(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, NULL);
	switching(&s, 0, 30 * S);
	switching(&s, 330 * S + 11, 360 * S);
	const struct nod_findings *f = found_at(&s, 360 * S);
	assert_int_equal(f->networks[0].span_count, 2);
	assert_false(f->networks[0].spans[0].slept_after);
	assert_false(f->networks[0].spans[1].slept_before);
	assert_int_equal(f->wake_count, 0);
	assert_int_equal(f->hole_count, 1);
	scene_end(&s);
}

/* What waited in a stalled adapter comes at once: of a lone talker as well. */
static void test_a_lone_talker_that_comes_in_a_burst_did_not_wake(void **state)
{
	(void)state;
	for (int stalled = 0; stalled < 2; stalled++) {
		struct scene s;
		scene_begin(&s, NULL);
		rhythm(&s, 0, 100 * S);
		PLAY(&s, {0, "18FEF121#00", 100 * S, 200 * S, 100});
		if (stalled)
			PLAY(&s, {0, "18FEF121#00", 260 * S, 260 * S + 100, 1});
		PLAY(&s, {0, "18FEF121#00", 261 * S, 300 * S, 100});
		const struct nod_findings *f = found_at(&s, 300 * S);
		assert_int_equal(f->networks[0].span_count, 2);
		assert_int_equal(f->networks[0].spans[1].slept_before, !stalled);
		scene_end(&s);
	}
}

/* ... for seconds on end, each message far more often than it is due. The rhythm is known all the
 * same afterwards: the next break in it is seen. */
static void test_a_long_backlog_is_no_wake_up_and_spoils_no_rhythm(void **state)
{
	(void)state;
	struct cyclic late[SENDERS];
	size_t count = 0;
	struct scene s;
	scene_begin(&s, NULL);
	rhythm(&s, 0, 60 * S);
	add(late, &count, 0, 70 * S, 76 * S, 0, 0);
	for (int i = 0; i < SENDERS; i++)
		late[i].period /= 5;
	play(&s, late, count);
	rhythm(&s, 76 * S, 100 * S);
	rhythm(&s, 130 * S + 11, 150 * S);
	const struct nod_findings *f = found_at(&s, 150 * S);
	assert_int_equal(f->networks[0].span_count, 3);
	for (int i = 0; i < 3; i++) {
		assert_false(f->networks[0].spans[i].slept_before);
		assert_false(f->networks[0].spans[i].slept_after);
	}
	assert_int_equal(f->wake_count, 0);
	assert_int_equal(f->hole_count, 2);
	scene_end(&s);
}

/* SAE J1939-71, from memory: bytes 4 and 5 of PGN 61444 are the engine speed; 600 1/min and a
 * little more. */
static void test_an_engine_that_runs_at_once_was_not_woken(void **state)
{
	(void)state;
	for (int runs = 0; runs < 2; runs++) {
		struct scene s;
		scene_begin(&s, NULL);
		rhythm(&s, 0, 100 * S);
		PLAY(&s, {0, "18FEF121#00", 100 * S, 200 * S, 100});
		PLAY(&s, {0, "18FEF121#00", 260 * S, 300 * S, 100},
		     {0, runs ? "0CF00400#000000C012000000" : "0CF00400#0000000000000000",
		      260 * S + 30, 300 * S, 40},
		     {0, runs ? "0CF00400#000000C812000000" : "0CF00400#0000000000000000",
		      260 * S + 50, 300 * S, 40});
		const struct nod_findings *f = found_at(&s, 300 * S);
		assert_int_equal(f->networks[0].span_count, 2);
		assert_int_equal(f->networks[0].spans[1].slept_before, !runs);
		scene_end(&s);
	}
}

/* Two senders tell little by how they stop: who says when the car was locked was there. */
static void test_long_silences_of_a_car_that_somebody_locked_are_sleep(void **state)
{
	(void)state;
	for (int locked = 0; locked < 2; locked++) {
		struct scene s;
		struct cyclic list[8];
		scene_begin(&s, NULL);
		if (locked)
			nod_engine_set_lock(s.engine, (nod_time){1}, NOD_LOCK_FROM_OPTION);
		for (int i = 0; i < 4; i++) {
			int64_t from = i * 34 * MIN + 17 * i;
			list[2 * i] = (struct cyclic){0, "2A0#00", from, from + 2 * MIN, 100};
			list[2 * i + 1] = (struct cyclic){0, "3B1#00", from + 237,
							  from + 2 * MIN + 400, 500};
		}
		play(&s, list, 8);
		const struct nod_findings *f = found_at(&s, 104 * MIN);
		for (int i = 0; i < 3; i++)
			assert_int_equal(f->networks[0].spans[i].slept_after, locked);
		scene_end(&s);
	}
}

static void test_our_own_recorder_knows(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, NULL);
	mark_at(&s, 0, NOD_MARK_STARTED, "");
	rhythm(&s, 0, 100 * S);
	const struct nod_findings *f = found_at(&s, 60 * MIN);
	assert_int_equal(f->networks[0].state, NOD_STATE_ASLEEP);
	assert_int_equal(f->hole_count, 0);
	scene_end(&s);
}

static void test_a_torn_line_speaks_for_a_hole(void **state)
{
	(void)state;
	struct scene s;
	struct nod_event defect = {.kind = NOD_EVENT_DEFECT, .time = NOD_TIME_NONE};
	scene_begin(&s, NULL);
	PLAY(&s, {0, "100#00", 0, 100 * S, 100});
	scene_take(&s, &defect);
	PLAY(&s, {0, "100#00", 300 * S, 400 * S, 100});
	const struct nod_findings *f = found_at(&s, 400 * S);
	assert_int_equal(f->hole_count, 1);
	assert_true(f->holes[0].torn);
	assert_false(f->networks[0].spans[0].slept_after);
	scene_end(&s);
}

/* While the other network is heard, silence is silence, up to the hole of both. */
static void test_a_hole_is_taken_out_of_a_longer_silence(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, NULL);
	PLAY(&s, {1, "700#00", 0, 50 * S, 100});
	struct cyclic list[SENDERS];
	size_t count = 0;
	add(list, &count, 0, 50 * S, 100 * S, 0, 0);
	play(&s, list, count);
	count = 0;
	add(list, &count, 0, 300 * S + 9, 400 * S, 0, 0);
	play(&s, list, count);
	PLAY(&s, {1, "700#00", 400 * S, 410 * S, 100});
	const struct nod_findings *f = found_at(&s, 410 * S);
	const struct nod_network_finding *n = &f->networks[0];
	for (size_t i = 0; i < f->network_count; i++)
		if (!strcmp(f->networks[i].name, "can1"))
			n = &f->networks[i];
	assert_true(n->spans[0].slept_after);
	assert_true(n->spans[1].slept_before); /* 100 s of silence were heard before it */
	assert_int_equal(n->asleep_known.ns / NOD_NS_PER_S, 150);
	scene_end(&s);
}

/* CanNm, cycle 400 ms: the application's messages of all stop together, by the NM-Timeout after the
 * last request. Who made it had just woken, and is known by its burst only: the cycle is that of the
 * others. */
static enum nod_verdict stops_after(int64_t timeout)
{
	struct cyclic list[SENDERS + 2] = {{0, "510#1000FFFFFFFFFFFF", 5, 30 * S, 400}};
	size_t count = 1;
	struct scene s;

	scene_begin(&s, "networks:\n"
			"  body: {interfaces: [can0], sleeps within: 60 s, quiet time: 6 s,\n"
			"    management: {scheme: autosar, ids: 500-53F}}\n");
	nod_engine_set_lock(s.engine, (nod_time){20 * S * NOD_NS_PER_MS}, NOD_LOCK_FROM_OPTION);
	list[count++] = (struct cyclic){0, "512#1200FFFFFFFFFFFF", 31 * S, 31 * S + 160, 20};
	add(list, &count, 0, 0, 31 * S + 140 + timeout, 0, 0);
	play(&s, list, count);
	enum nod_verdict verdict = found_at(&s, 4 * MIN)->networks[0].verdict;
	scene_end(&s);
	return verdict;
}

static void test_all_at_once_by_the_timeout_of_management_is_sleep(void **state)
{
	(void)state;
	assert_int_equal(stops_after(800), NOD_VERDICT_SLEEPS);
	assert_int_equal(stops_after(200), NOD_VERDICT_CANNOT_TELL);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_a_hole_is_no_sleep),
		cmocka_unit_test(test_behind_a_long_hole_the_deadline_is_not_missed_at_once),
		cmocka_unit_test(test_a_sleep_in_order_and_a_wakeup_in_order_are_claimed),
		cmocka_unit_test(test_asleep_and_then_not_listened_to),
		cmocka_unit_test(test_what_stops_at_once_at_the_end_is_not_asleep),
		cmocka_unit_test(test_who_is_switched_while_the_others_run_is_not_asleep),
		cmocka_unit_test(test_a_lone_talker_that_comes_in_a_burst_did_not_wake),
		cmocka_unit_test(test_a_long_backlog_is_no_wake_up_and_spoils_no_rhythm),
		cmocka_unit_test(test_an_engine_that_runs_at_once_was_not_woken),
		cmocka_unit_test(test_long_silences_of_a_car_that_somebody_locked_are_sleep),
		cmocka_unit_test(test_all_at_once_by_the_timeout_of_management_is_sleep),
		cmocka_unit_test(test_our_own_recorder_knows),
		cmocka_unit_test(test_a_torn_line_speaks_for_a_hole),
		cmocka_unit_test(test_a_hole_is_taken_out_of_a_longer_silence),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
