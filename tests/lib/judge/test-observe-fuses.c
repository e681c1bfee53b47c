/* SPDX-License-Identifier: MIT */
#include "scene.h"

#define MIN (60 * 1000)

/* Cold resistance is stated, so that no table is relied on: 10 mOhm, 1 mV is
 * 100 mA (Ohm's law). */
static const char body[] = "networks:\n"
			   "  body: { interfaces: [can0], sleeps within: 10 min, quiet time: 3 s, "
			   "management: { scheme: none } }\n"
			   "modules:\n"
			   "  roof unit: { ids: [100], fuses: [F1] }\n"
			   "  seat unit: { ids: [200], fuses: [F2] }\n"
			   "  door unit: { ids: [300], fuses: [F3, F4] }\n"
			   "fuses:\n"
			   "  F1: { family: mini, rating: 10 A, resistance: 10 mOhm }\n"
			   "  F2: { family: mini, rating: 10 A, resistance: 10 mOhm }\n"
			   "  F3: { family: mini, rating: 10 A, resistance: 10 mOhm }\n"
			   "  F4: { family: mini, rating: 10 A, resistance: 10 mOhm }\n";

static void talk_on(struct scene *s)
{
	scene_begin(s, body);
	mark_at(s, 0, NOD_MARK_LOCKED, "");
	PLAY(s, {0, "100#00", 0, 30 * MIN, 100}, {0, "200#00", 10, 30 * MIN, 100},
	     {0, "300#00", 20, 30 * MIN, 100});
}

static void test_a_fuse_without_current_clears_its_module(void **state)
{
	(void)state;
	struct scene s;
	talk_on(&s);
	double before = probability(found_at(&s, 30 * MIN), "roof unit");
	mark_at(&s, 30 * MIN, NOD_MARK_READING, "F1 0.00 mV");
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_int_equal(f->fuse_count, 1);
	assert_true(f->fuses[0].high_ua < 20000);
	assert_non_null(strstr(evidence(f, "roof unit", NOD_EV_FUSE_DEAD), "Across fuse F1"));
	assert_true(probability(f, "roof unit") < before / 3);
	scene_end(&s);
}

/* One of two measured fuses carries current: a hint, no more. */
static void test_a_fuse_with_current_is_a_hint(void **state)
{
	(void)state;
	struct scene s;
	talk_on(&s);
	mark_at(&s, 30 * MIN, NOD_MARK_READING, "F1 0.00 mV");
	mark_at(&s, 30 * MIN + 10, NOD_MARK_READING, "F2 2.00 mV");
	const struct nod_findings *f = found_at(&s, 30 * MIN + 10);
	assert_true(f->fuses[1].low_ua > 150000 && f->fuses[1].high_ua < 250000);
	assert_non_null(evidence(f, "seat unit", NOD_EV_FUSE_CARRIES));
	assert_string_equal(f->suspects[0].name, "seat unit");
	assert_true(f->suspects[0].probability < 0.9);
	scene_end(&s);
}

/* With its other supply not measured, nothing follows. */
static void test_one_of_two_supplies_says_nothing(void **state)
{
	(void)state;
	struct scene s;
	talk_on(&s);
	mark_at(&s, 30 * MIN, NOD_MARK_READING, "F3 0.00 mV");
	assert_null(evidence(found_at(&s, 30 * MIN), "door unit", NOD_EV_FUSE_DEAD));
	mark_at(&s, 30 * MIN + 10, NOD_MARK_READING, "F4 0.00 mV");
	assert_non_null(evidence(found_at(&s, 30 * MIN + 10), "door unit", NOD_EV_FUSE_DEAD));
	scene_end(&s);
}

/* A coarse meter: one count of 1 mV across 10 mOhm is 100 mA, so 0 mV says nothing. */
static void test_a_coarse_meter_clears_nobody(void **state)
{
	(void)state;
	struct scene s;
	talk_on(&s);
	mark_at(&s, 30 * MIN, NOD_MARK_READING, "F1 0 mV");
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_true(f->fuses[0].high_ua >= 20000);
	assert_null(evidence(f, "roof unit", NOD_EV_FUSE_DEAD));
	assert_null(evidence(f, "roof unit", NOD_EV_FUSE_CARRIES));
	scene_end(&s);
}

static void test_the_latest_reading_counts(void **state)
{
	(void)state;
	struct scene s;
	talk_on(&s);
	mark_at(&s, 30 * MIN, NOD_MARK_READING, "F1 0.00 mV");
	mark_at(&s, 30 * MIN + 10, NOD_MARK_READING, "F1 3.00 mV");
	const struct nod_findings *f = found_at(&s, 30 * MIN + 10);
	assert_null(evidence(f, "roof unit", NOD_EV_FUSE_DEAD));
	assert_non_null(evidence(f, "roof unit", NOD_EV_FUSE_CARRIES));
	scene_end(&s);
}

static void test_what_is_no_fuse_of_the_map_is_left_alone(void **state)
{
	(void)state;
	struct scene s;
	talk_on(&s);
	mark_at(&s, 30 * MIN, NOD_MARK_READING, "F99 0.00 mV");
	mark_at(&s, 30 * MIN + 10, NOD_MARK_READING, "battery 12.4 V");
	assert_int_equal(found_at(&s, 30 * MIN + 10)->fuse_count, 0);
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_a_fuse_without_current_clears_its_module),
		cmocka_unit_test(test_a_fuse_with_current_is_a_hint),
		cmocka_unit_test(test_one_of_two_supplies_says_nothing),
		cmocka_unit_test(test_a_coarse_meter_clears_nobody),
		cmocka_unit_test(test_the_latest_reading_counts),
		cmocka_unit_test(test_what_is_no_fuse_of_the_map_is_left_alone),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
