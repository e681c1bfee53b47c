/* SPDX-License-Identifier: MIT */
/* What happened in the car and nobody noted: doors, lids and keys. (What was pulled:
 * tests/lib/network/test-inferred-marks.c.) */
#include "scene.h"

static const char car[] = "networks:\n  body: { interfaces: [can0], sleeps within: 1 min, "
			  "quiet time: 2 s, management: { scheme: none } }\n"
			  "modules:\n"
			  "  door unit: { ids: [100] }\n"
			  "  lamps: { ids: [200] }\n";

#define WAKE 600000 /* ms */

/* The door unit and the lamps from a moment on; the door stands open for so long of it. */
static void wake_up(struct scene *s, int64_t at, int64_t open, int64_t awake)
{
	for (int64_t t = at; t < at + awake; t += 100) {
		frame_at(s, t, 0, t < at + open ? "100#0800" : "100#0000");
		frame_at(s, t + 10, 0, "200#00");
	}
}

static void begin(struct scene *s)
{
	scene_begin(s, car);
	mark_at(s, 0, NOD_MARK_LOCKED, "");
	wake_up(s, 1000, 0, 30000);
}

static void test_a_door_is_asked_about_with_its_bit(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	wake_up(&s, WAKE, 6000, 30000);
	const struct nod_findings *f = found_at(&s, WAKE + 60000);
	assert_int_equal(f->wake_count, 1);
	assert_int_equal(f->question_count, 1);
	assert_int_equal(f->questions[0].kind, NOD_MARK_DOOR);
	assert_int_equal(f->questions[0].time.ns, WAKE * NOD_NS_PER_MS);
	assert_string_equal(f->questions[0].subject, "100 byte 0 bit 3");
	assert_non_null(strstr(f->questions[0].text,
			       "body woke, and in 100 of door unit byte 0 bit 3 went over and back "
			       "after 6.0 s"));
	scene_end(&s);
}

/* Still open, or a bit that moves with every wake-up: nothing is asked. */
static void test_what_is_no_door(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	wake_up(&s, WAKE, 30000, 30000);
	assert_int_equal(found_at(&s, WAKE + 60000)->question_count, 0);
	scene_end(&s);
	begin(&s);
	for (int i = 0; i < 6; i++)
		wake_up(&s, WAKE + i * 120000, 3000, 20000);
	assert_int_equal(found_at(&s, WAKE + 800000)->question_count, 0);
	scene_end(&s);
}

static void test_an_answer_ends_it(void **state)
{
	(void)state;
	static const enum nod_mark_kind answers[] = {NOD_MARK_DOOR, NOD_MARK_NOTHING};
	for (int i = 0; i < 2; i++) {
		struct scene s;
		begin(&s);
		mark_at(&s, WAKE, answers[i], "");
		wake_up(&s, WAKE, 6000, 30000);
		const struct nod_findings *f = found_at(&s, WAKE + 60000);
		assert_int_equal(f->question_count, 0);
		assert_int_equal(!*f->wakes[0].cause, answers[i] == NOD_MARK_NOTHING);
		scene_end(&s);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_a_door_is_asked_about_with_its_bit),
		cmocka_unit_test(test_what_is_no_door),
		cmocka_unit_test(test_an_answer_ends_it),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
