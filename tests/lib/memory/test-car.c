/* SPDX-License-Identifier: MIT */
#include "scene.h"

#include "car.h"

#define MIN (60 * 1000)
#define VIN "ZZZAB12C0XK004711" /* invented */

static const char body[] = "vehicle: \"Estate, invented\"\n"
			   "networks:\n"
			   "  body: { interfaces: [can0], sleeps within: 10 min, quiet time: 3 s, "
			   "management: { scheme: none } }\n"
			   "modules:\n"
			   "  roof unit: { ids: [100], fuses: [F1] }\n"
			   "  roof: { ids: [200], fuses: [F2] }\n"
			   "fuses: { F1: { rating: 5 A }, F2: { rating: 5 A } }\n";

struct described {
	struct nod_arena arena;
	struct nod_car car;
};

static void describe(struct described *d, const struct nod_findings *f, const char *vin)
{
	memset(d, 0, sizeof(*d));
	assert_int_equal(nod_car_describe(&d->car, &d->arena, f, "/cars/one", vin), 0);
}

static void begin(struct scene *s)
{
	scene_begin(s, body);
	mark_at(s, 0, NOD_MARK_STARTED, "");
	mark_at(s, 0, NOD_MARK_LOCKED, "");
}

/* Both talk for two minutes, then all sleeps. */
static void sleep_well(struct scene *s)
{
	begin(s);
	PLAY(s, {0, "100#00", 0, 2 * MIN, 100}, {0, "200#00", 10, 2 * MIN, 500});
}

static void test_a_good_sleep(void **state)
{
	(void)state;
	struct scene s;
	struct described d;
	sleep_well(&s);
	describe(&d, found_at(&s, 60 * MIN), NULL);
	assert_true(d.car.good);
	assert_false(d.car.tried || d.car.mended);
	assert_string_equal(d.car.vin, "");
	assert_string_equal(d.car.map, "Estate, invented");
	assert_string_equal(d.car.found, "");
	assert_int_equal(d.car.message_count, 2);
	assert_int_equal(d.car.messages[0].id, 0x100);
	assert_int_equal(d.car.messages[0].period_us, 100000);
	assert_int_equal(d.car.messages[1].period_us, 500000);
	assert_true(d.car.end.ns < 2 * MIN * NOD_NS_PER_MS);
	nod_arena_free(&d.arena);
	/* that it was mended is written down weeks later */
	mark_at(&s, INT64_C(30000) * MIN, NOD_MARK_NOTE, "latch of the roof replaced");
	describe(&d, found_at(&s, INT64_C(30000) * MIN), NULL);
	assert_true(d.car.mended);
	assert_string_equal(d.car.part, "roof");
	assert_true(d.car.start.ns == 0 && d.car.end.ns < 2 * MIN * NOD_NS_PER_MS);
	nod_arena_free(&d.arena);
	scene_end(&s);
}

/* What slept with something taken out is no good recording, and is proved here. */
static void test_slept_with_its_fuse_out(void **state)
{
	(void)state;
	struct scene s;
	struct described d;
	begin(&s);
	PLAY(&s, {0, "100#00", 0, 20 * MIN, 100}, {0, "200#00", 10, 20 * MIN, 100});
	mark_at(&s, 20 * MIN, NOD_MARK_ISOLATED, "F1");
	describe(&d, found_at(&s, 60 * MIN), NULL);
	assert_false(d.car.good);
	assert_true(d.car.tried && d.car.proved);
	assert_string_equal(d.car.found, "roof unit");
	assert_int_equal(d.car.messages[0].found, 1);
	assert_int_equal(d.car.messages[1].found, 0);
	nod_arena_free(&d.arena);
	scene_end(&s);
}

/* The longest name that the note holds is meant; a VIN in the journal counts where none was
 * heard. */
static void test_notes(void **state)
{
	(void)state;
	struct scene s;
	struct described d;
	begin(&s);
	PLAY(&s, {0, "100#00", 0, 2 * MIN, 100});
	mark_at(&s, 3 * MIN, NOD_MARK_NOTE, "VIN " VIN);
	mark_at(&s, 4 * MIN, NOD_MARK_NOTE, "Replaced the Roof Unit's latch");
	describe(&d, found_at(&s, 20 * MIN), NULL);
	assert_string_equal(d.car.vin, VIN);
	assert_true(d.car.mended);
	assert_string_equal(d.car.part, "roof unit");
	nod_arena_free(&d.arena);
	describe(&d, s.found, "ZZZAB12C0XK008155");
	assert_string_equal(d.car.vin, "ZZZAB12C0XK008155");
	nod_arena_free(&d.arena);
	scene_end(&s);
}

static void test_not_mended(void **state)
{
	(void)state;
	struct scene s;
	struct described d;
	begin(&s);
	PLAY(&s, {0, "100#00", 0, 2 * MIN, 100});
	mark_at(&s, 3 * MIN, NOD_MARK_NOTE, "roof unit was not replaced");
	mark_at(&s, 4 * MIN, NOD_MARK_NOTE, "customer hasn't had it fixed");
	describe(&d, found_at(&s, 20 * MIN), NULL);
	assert_false(d.car.mended);
	nod_arena_free(&d.arena);
	scene_end(&s);
}

static void test_a_tester_is_not_of_the_car(void **state)
{
	(void)state;
	struct scene s;
	struct described d;
	begin(&s);
	PLAY(&s, {0, "100#00", 0, 20 * MIN, 100}, {0, "7DF#023E80", 10, 20 * MIN, 2000},
	     {0, "7E8#017E", 20, 20 * MIN, 2000});
	describe(&d, found_at(&s, 20 * MIN), NULL);
	assert_int_equal(d.car.message_count, 1);
	assert_string_equal(d.car.found, "");
	nod_arena_free(&d.arena);
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_a_good_sleep),
		cmocka_unit_test(test_slept_with_its_fuse_out),
		cmocka_unit_test(test_notes),
		cmocka_unit_test(test_not_mended),
		cmocka_unit_test(test_a_tester_is_not_of_the_car),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
