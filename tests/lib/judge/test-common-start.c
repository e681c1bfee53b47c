/* SPDX-License-Identifier: MIT */
/* Who starts because of a frame, and who starts together with whoever sent it. */
#include "scene.h"

#define MIN (60 * 1000)

static const char map[] =
	"networks:\n"
	"  body: { interfaces: [can0], bitrate: 500000, sleeps within: 5 min, quiet time: 3 s, "
	"management: { scheme: none } }\n"
	"modules:\n"
	"  roof unit: { ids: [100] }\n"
	"  seat unit: { ids: [200] }\n"
	"  door unit: { ids: [300] }\n"
	"  mirror unit: { ids: [400] }\n"
	"  light unit: { ids: [500] }\n";

/* ms, by wake-up: how much later than usual each of the others starts, of itself; what they have
 * in common besides, where it is the first one's own start that scatters. */
static const int own[5][4] = {{0, 4, 7, 2}, {6, 1, 3, 7}, {3, 7, 0, 4}, {7, 2, 5, 0}, {1, 5, 4, 6}};
static const int first_start[5] = {0, 14, 5, 19, 9};

static const struct nod_findings *wake(struct scene *s, bool together)
{
	static const char *const others[] = {"200#00", "300#00", "400#00", "500#00"};

	scene_begin(s, map);
	mark_at(s, 0, NOD_MARK_LOCKED, "");
	PLAY(s, {0, "100#00", 0, MIN, 100}, {0, "200#00", 3, MIN + 500, 100},
	     {0, "300#00", 5, MIN + 900, 100}, {0, "400#00", 7, MIN + 1400, 100},
	     {0, "500#00", 9, MIN + 2000, 100});
	for (int w = 0; w < 5; w++) {
		int64_t from = (20 + 10 * w) * (int64_t)MIN;
		frame_at(s, from, 0, "100#00");
		for (int k = 0; k < 4; k++)
			frame_at(s,
				 from + 60 + 30 * k + own[w][k] - (together ? first_start[w] : 0),
				 0, others[k]);
		PLAY(s, {0, "100#00", from + 300, from + 8000, 100},
		     {0, "200#00", from + 310, from + 8500, 100},
		     {0, "300#00", from + 320, from + 8900, 100},
		     {0, "400#00", from + 330, from + 9400, 100},
		     {0, "500#00", from + 340, from + 10000, 100});
	}
	return found_at(s, 75 * MIN);
}

/* Always alike, so late as `late` says, ms: how likely the roof unit is. */
static double alike(const char *vehicle, const int late[4], const char *name)
{
	static const char *const others[] = {"200#00", "300#00", "400#00", "500#00"};
	struct scene s;

	scene_begin(&s, vehicle);
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, MIN, 100}, {0, "200#00", 3, MIN + 500, 100},
	     {0, "300#00", 5, MIN + 900, 100}, {0, "400#00", 7, MIN + 1400, 100},
	     {0, "500#00", 9, MIN + 2000, 100});
	for (int w = 0; w < 5; w++) {
		int64_t from = (20 + 10 * w) * (int64_t)MIN;
		frame_at(&s, from, 0, "100#00");
		for (int k = 0; k < 4; k++)
			frame_at(&s, from + late[k], 0, others[k]);
		PLAY(&s, {0, "100#00", from + 600, from + 8000, 100},
		     {0, "200#00", from + 610, from + 8500, 100},
		     {0, "300#00", from + 620, from + 8900, 100},
		     {0, "400#00", from + 630, from + 9400, 100},
		     {0, "500#00", from + 640, from + 10000, 100});
	}
	double p = probability(found_at(&s, 75 * MIN), name);
	scene_end(&s);
	return p;
}

/* Who is woken by a frame needs its whole time; on a line, what it needs more than the first. */
static void test_some_at_once_and_some_late_started_with_the_first(void **state)
{
	(void)state;
	static const int by_frame[4] = {80, 110, 140, 190}, by_line[4] = {3, 30, 160, 390};
	double woken = alike(map, by_frame, "roof unit");
	double together = alike(map, by_line, "roof unit");
	assert_true(woken > 0.93);
	assert_true(together < 0.8);
}

/* Without a map two messages may be one unit's: how late they are tells nothing. */
static void test_without_modules_lateness_tells_nothing(void **state)
{
	(void)state;
	static const char bare[] =
		"networks:\n"
		"  body: { interfaces: [can0], bitrate: 500000, sleeps within: 5 min, "
		"quiet time: 3 s, management: { scheme: none } }\n";
	static const int by_frame[4] = {80, 110, 140, 190}, by_line[4] = {3, 30, 160, 390};
	assert_float_equal(alike(bare, by_frame, "100"), alike(bare, by_line, "100"), 0.05);
}

static void test_each_late_by_itself_was_woken_by_the_frame(void **state)
{
	(void)state;
	struct scene s;
	const struct nod_findings *f = wake(&s, false);
	assert_int_equal(f->verdict, NOD_VERDICT_WOKEN);
	assert_string_equal(f->suspects[0].name, "roof unit");
	assert_true(probability(f, "roof unit") > 0.9);
	scene_end(&s);
}

static void test_all_late_together_started_with_the_first(void **state)
{
	(void)state;
	struct scene s;
	const struct nod_findings *f = wake(&s, true);
	assert_int_equal(f->verdict, NOD_VERDICT_WOKEN);
	assert_true(probability(f, "roof unit") < 0.6);
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_each_late_by_itself_was_woken_by_the_frame),
		cmocka_unit_test(test_all_late_together_started_with_the_first),
		cmocka_unit_test(test_some_at_once_and_some_late_started_with_the_first),
		cmocka_unit_test(test_without_modules_lateness_tells_nothing),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
