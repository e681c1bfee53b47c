/* SPDX-License-Identifier: MIT */
#include "scene.h"

#define S 1000
#define MIN (60 * S)

static void engine_at(struct scene *s, int64_t ms, unsigned rpm)
{
	char text[40];
	unsigned raw = rpm * 8;

	snprintf(text, sizeof(text), "0CF00400#FFFFFF%02X%02XFFFFFF", raw & 0xFF, raw >> 8);
	frame_at(s, ms, 0, text);
}

/* SAE J1939-71 (from memory): PGN 61444, engine speed in bytes 4 and 5, 0.125 1/min a bit. */
static void test_an_engine_that_runs_is_use(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, NULL);
	for (int64_t t = 0; t < 60 * S; t += 20)
		engine_at(&s, t, 600 + (unsigned)(t / 500) % 7);
	PLAY(&s, {0, "18FEF121#00", 60 * S, 100 * S, 100});
	const struct nod_findings *f = found_at(&s, 120 * S);
	assert_int_equal(f->use_count, 1);
	assert_int_equal(f->uses[0].sign, NOD_USE_ENGINE);
	assert_int_equal(f->uses[0].speed, 606);
	assert_false(f->in_use);
	assert_int_equal(f->clock_from.ns / NOD_NS_PER_S, 59);
	assert_string_equal(f->clock_cause, "end of use");
	assert_non_null(strstr(f->facts[0], "in use"));
	scene_end(&s);
}

/* Other data under the same ID: one value that never moves, or jumps about. */
static void test_what_is_no_speed_is_no_use(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, NULL);
	for (int64_t t = 0; t < 60 * S; t += 20)
		engine_at(&s, t, 1234);
	for (int64_t t = 60 * S; t < 120 * S; t += 20)
		engine_at(&s, t, t / 20 % 2 ? 400 : 4000);
	assert_int_equal(found_at(&s, 120 * S)->use_count, 0);
	scene_end(&s);
}

/* Twenty messages, of which so many have a value that moves. */
static void play_values(struct scene *s, int64_t from, int64_t to, int moving)
{
	for (int64_t t = from; t < to; t += 100)
		for (int i = 0; i < 20; i++) {
			char text[40];
			unsigned value = i < moving
						 ? (unsigned)(t / 100 * 7919 + i * 31) % 251 & 0xF0
						 : 0x40;
			snprintf(text, sizeof(text), "%03X#%02X00", 0x100 + i, value);
			frame_at(s, t + i, 0, text);
		}
}

static void test_values_that_move_in_many_messages_are_use(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, NULL);
	play_values(&s, 0, 60 * S, 15);
	const struct nod_findings *f = found_at(&s, 60 * S);
	assert_true(f->in_use);
	assert_int_equal(f->verdict, NOD_VERDICT_CANNOT_TELL);
	assert_non_null(strstr(f->sentence, "in use"));
	assert_null(strstr(f->next, "Leave the car locked"));
	assert_int_equal(f->suspect_count, 0); /* nor "nothing is wrong" */
	scene_end(&s);
}

static void test_a_few_that_move_are_none(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, NULL);
	play_values(&s, 0, 60 * S, 4);
	assert_int_equal(found_at(&s, 60 * S)->use_count, 0);
	scene_end(&s);
}

/* Who says that it was locked knows better than values that move. */
static void test_after_the_lock_values_are_none(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, NULL);
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	play_values(&s, 0, 60 * S, 15);
	assert_int_equal(found_at(&s, 60 * S)->use_count, 0);
	scene_end(&s);
}

static void test_a_network_that_begins_while_another_talks_is_not_woken(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, NULL);
	PLAY(&s, {0, "100#00", 0, 300 * S, 100}, {1, "200#00", 0, 20 * S, 100},
	     {1, "200#00", 60 * S, 90 * S, 100});
	const struct nod_findings *f = found_at(&s, 300 * S);
	for (size_t i = 0; i < f->network_count; i++)
		assert_int_equal(f->networks[i].wakes, 0);
	assert_int_equal(f->verdict, NOD_VERDICT_CANNOT_TELL);
	scene_end(&s);
}

static void test_the_nearest_mark_explains(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, NULL);
	mark_at(&s, 0, NOD_MARK_STARTED, "");
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, 20 * S, 100});
	mark_at(&s, 54100, NOD_MARK_DOOR, "");
	PLAY(&s, {0, "100#00", 54300, 56 * S, 100});
	mark_at(&s, 66200, NOD_MARK_TOUCHED, "key fob");
	PLAY(&s, {0, "100#00", 66400, 68 * S, 100});
	const struct nod_findings *f = found_at(&s, 100 * S);
	assert_int_equal(f->wake_count, 2);
	assert_string_equal(f->wakes[0].cause, "door");
	assert_string_equal(f->wakes[1].cause, "touched key fob");
	scene_end(&s);
}

/* Three wake-ups of 5 s in 72 h: told with what they cost, and no trouble. */
static void test_rates_count_not_numbers(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, NULL);
	mark_at(&s, 0, NOD_MARK_STARTED, "");
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, 20 * S, 100});
	for (int64_t h = 10; h < 70; h += 25)
		PLAY(&s, {0, "100#00", h * 60 * MIN, h * 60 * MIN + 5 * S, 100});
	const struct nod_findings *f = found_at(&s, 72 * 60 * MIN);
	assert_int_equal(f->networks[0].wakes, 3);
	assert_int_equal(f->verdict, NOD_VERDICT_SLEEPS);
	assert_non_null(strstr(f->networks[0].reason, "mAh a day"));
	scene_end(&s);
}

static void test_slept_late_against_a_guess_is_slept_late(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, NULL);
	mark_at(&s, 0, NOD_MARK_STARTED, "");
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, 40 * MIN + 10 * S, 100});
	const struct nod_findings *f = found_at(&s, 80 * MIN);
	assert_int_equal(f->verdict, NOD_VERDICT_LATE);
	assert_non_null(strstr(f->sentence, "default deadline"));
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_an_engine_that_runs_is_use),
		cmocka_unit_test(test_what_is_no_speed_is_no_use),
		cmocka_unit_test(test_values_that_move_in_many_messages_are_use),
		cmocka_unit_test(test_a_few_that_move_are_none),
		cmocka_unit_test(test_after_the_lock_values_are_none),
		cmocka_unit_test(test_a_network_that_begins_while_another_talks_is_not_woken),
		cmocka_unit_test(test_the_nearest_mark_explains),
		cmocka_unit_test(test_rates_count_not_numbers),
		cmocka_unit_test(test_slept_late_against_a_guess_is_slept_late),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
