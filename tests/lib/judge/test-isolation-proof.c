/* SPDX-License-Identifier: MIT */
#include "scene.h"
#define MIN (60 * 1000)
static const char two[] =
	"networks:\n"
	"  body: { interfaces: [can0], bitrate: 500000, sleeps within: 10 min, quiet time: 3 s, "
	"management: { scheme: none } }\n"
	"  drive: { interfaces: [can1], bitrate: 500000, sleeps within: 10 min, quiet time: 3 s, "
	"management: { scheme: none } }\n"
	"modules:\n"
	"  seat unit: { networks: [body], ids: [200], fuses: [F1] }\n"
	"  engine unit: { networks: [drive], ids: [400], fuses: [F2] }\n"
	"  gearbox unit: { networks: [drive], ids: [500], fuses: [F3] }\n"
	"  radio: { networks: [body, drive], ids: [600, 601], fuses: [F4, F5] }\n"
	"  lamp unit: { networks: [body], ids: [700], fuses: [F4] }\n"
	"  gateway: { networks: [body, drive], ids: [010, 011], fuses: [F6], gateway: yes }\n"
	"fuses: { F1: { rating: 5 A }, F2: { rating: 5 A }, F3: { rating: 5 A }, F4: { rating: 5 A }, "
	"F5: { rating: 5 A }, F6: { rating: 5 A } }\n";

/* the gateway out: body sleeps, drive, where the holder is, does not */
static void test_one_network_asleep_while_another_is_held_is_no_proof(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, two);
	mark_at(&s, 0, NOD_MARK_STARTED, "");
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "200#00", 0, 20 * MIN, 100}, {0, "010#00", 10, 20 * MIN, 100},
	     {1, "400#00", 20, 20 * MIN, 100}, {1, "500#00", 20, 20 * MIN, 100},
	     {1, "011#00", 10, 20 * MIN, 100});
	mark_at(&s, 20 * MIN, NOD_MARK_ISOLATED, "F6");
	PLAY(&s, {0, "200#00", 20 * MIN, 20 * MIN + 10000, 100},
	     {1, "400#00", 20 * MIN, 40 * MIN, 100}, {1, "500#00", 20 * MIN + 20, 40 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 40 * MIN - 100);
	assert_int_not_equal(f->isolations[0].result, NOD_ISOLATION_PROVED);
	scene_end(&s);
}

/* F4 feeds lamp unit alone and radio beside F5: radio goes on (on both networks), so it is not exonerated */
static void test_a_module_that_stayed_on_is_not_exonerated(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, two);
	mark_at(&s, 0, NOD_MARK_STARTED, "");
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "200#00", 0, 20 * MIN, 100}, {0, "700#00", 10, 20 * MIN, 100},
	     {1, "400#00", 20, 20 * MIN, 100}, {1, "601#00", 20, 20 * MIN, 100});
	mark_at(&s, 20 * MIN, NOD_MARK_ISOLATED, "F4");
	PLAY(&s, {0, "200#00", 20 * MIN, 40 * MIN, 100}, {1, "400#00", 20 * MIN, 40 * MIN, 100},
	     {1, "601#00", 20 * MIN + 20, 40 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 40 * MIN - 100);
	for (size_t i = 0; i < f->suspect_count; i++)
		if (!strcmp(f->suspects[i].name, "radio"))
			assert_true(f->suspects[i].probability > 0.1);
	scene_end(&s);
}

/* and the lamp unit, that did fall silent while all stayed awake, is */
static void test_a_module_that_fell_silent_is_exonerated_beside_one_that_did_not(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, two);
	mark_at(&s, 0, NOD_MARK_STARTED, "");
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "200#00", 0, 20 * MIN, 100}, {0, "700#00", 10, 20 * MIN, 100},
	     {0, "600#00", 20, 20 * MIN, 100});
	mark_at(&s, 20 * MIN, NOD_MARK_ISOLATED, "F4");
	PLAY(&s, {0, "200#00", 20 * MIN, 40 * MIN, 100},
	     {0, "600#00", 20 * MIN + 20, 40 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 40 * MIN - 100);
	for (size_t i = 0; i < f->suspect_count; i++) {
	}
	for (size_t i = 0; i < f->suspect_count; i++)
		if (!strcmp(f->suspects[i].name, "lamp unit"))
			assert_true(f->suspects[i].probability < 0.05);
	scene_end(&s);
}

static void wake_every(struct scene *s, const char *who, int64_t from, int64_t to, int64_t every)
{
	char text[16];
	snprintf(text, sizeof(text), "%s#00", who);
	for (int64_t t = from; t < to; t += every)
		PLAY(s, {0, text, t, t + 20000, 100}, {0, "200#00", t + 60, t + 20000, 100});
}

/* waker every 8 min; isolated while asleep; silent for 50 min */
static void test_a_waker_that_does_not_wake_any_more_while_isolated_is_found(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, two);
	mark_at(&s, 0, NOD_MARK_STARTED, "");
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "700#00", 0, MIN, 100}, {0, "200#00", 10, MIN, 100});
	wake_every(&s, "700", 8 * MIN, 60 * MIN, 8 * MIN);
	mark_at(&s, 60 * MIN, NOD_MARK_ISOLATED, "lamp unit");
	const struct nod_findings *f = found_at(&s, 110 * MIN);
	assert_true(f->isolations[0].result == NOD_ISOLATION_SLEPT ||
		    f->isolations[0].result == NOD_ISOLATION_PROVED);
	scene_end(&s);
}

/* waker every 25 min; an innocent isolated in a wake-up: asleep for 12 min is nothing new */
static void test_sleep_shorter_than_the_wakers_interval_is_no_proof(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, two);
	mark_at(&s, 0, NOD_MARK_STARTED, "");
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "700#00", 0, MIN, 100}, {0, "200#00", 10, MIN, 100});
	wake_every(&s, "700", 25 * MIN, 120 * MIN, 25 * MIN);
	PLAY(&s, {0, "700#00", 125 * MIN, 125 * MIN + 10000, 100},
	     {0, "200#00", 125 * MIN + 60, 125 * MIN + 10000, 100});
	mark_at(&s, 125 * MIN + 10000, NOD_MARK_ISOLATED, "seat unit");
	PLAY(&s, {0, "700#00", 125 * MIN + 10000, 125 * MIN + 20000, 100});
	const struct nod_findings *f = found_at(&s, 138 * MIN);
	assert_int_not_equal(f->isolations[0].result, NOD_ISOLATION_PROVED);
	scene_end(&s);
}
/* It slept before the fuse was touched: that is not the fuse's doing. */
static void test_asleep_before_the_isolation_is_no_proof(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, two);
	mark_at(&s, 0, NOD_MARK_STARTED, "");
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "700#00", 0, 12 * MIN, 100}, {0, "200#00", 10, 12 * MIN, 200});
	mark_at(&s, 12 * MIN + 2000, NOD_MARK_ISOLATED, "F1"); /* within the quiet time */
	assert_int_not_equal(found_at(&s, 40 * MIN)->isolations[0].result, NOD_ISOLATION_PROVED);
	scene_end(&s);
}

/* The only one left: silent at once; refitted 4 s before the mark is entered. */
static void test_a_refit_noted_late_does_not_mean_it_was_never_off(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, two);
	mark_at(&s, 0, NOD_MARK_STARTED, "");
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "200#00", 0, 20 * MIN - 2000, 200});
	mark_at(&s, 20 * MIN, NOD_MARK_ISOLATED, "F1");
	PLAY(&s, {0, "200#00", 30 * MIN - 4000, 30 * MIN, 200});
	mark_at(&s, 30 * MIN, NOD_MARK_REFITTED, "F1");
	PLAY(&s, {0, "200#00", 30 * MIN, 40 * MIN, 200});
	const struct nod_findings *f = found_at(&s, 40 * MIN - 100);
	assert_int_not_equal(f->isolations[0].result, NOD_ISOLATION_NOT_OFF);
	scene_end(&s);
}

/* Three wake-ups of such a length, and one of 6 min in which F1 is pulled: it sleeps 4 s later. How
 * likely that was by chance. */
static double chance_after_wakes_of(int64_t length, bool door)
{
	struct scene s;

	scene_begin(&s, two);
	mark_at(&s, 0, NOD_MARK_STARTED, "");
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "700#00", 0, MIN, 100}, {0, "200#00", 10, MIN, 100});
	for (int64_t t = 30 * MIN; t < 120 * MIN; t += 30 * MIN)
		PLAY(&s, {0, "700#00", t, t + length, 100}, {0, "200#00", t + 60, t + length, 100});
	if (door)
		mark_at(&s, 120 * MIN, NOD_MARK_DOOR, "");
	PLAY(&s, {0, "700#00", 120 * MIN, 126 * MIN + 4000, 100},
	     {0, "200#00", 120 * MIN + 60, 126 * MIN, 100});
	mark_at(&s, 126 * MIN, NOD_MARK_ISOLATED, "F1");
	const struct nod_findings *f = found_at(&s, 150 * MIN);
	assert_int_equal(f->isolation_count, 1);
	double chance = f->isolations[0].by_chance;
	scene_end(&s);
	return chance;
}

/* One that lasted hardly longer than those before would have ended anyway. */
static void test_a_wake_up_of_the_usual_length_ends_by_itself(void **state)
{
	double usual = chance_after_wakes_of(5 * MIN, false),
	       long_for_it = chance_after_wakes_of(10000, false);

	(void)state;
	assert_true(long_for_it > 0);
	assert_true(usual > 2 * long_for_it);
}

/* What a door woke is not measured by wake-ups that nobody knows of. */
static void test_a_wake_up_of_a_door_has_its_own_time(void **state)
{
	double beside_long = chance_after_wakes_of(5 * MIN, true),
	       beside_short = chance_after_wakes_of(10000, true);

	(void)state;
	assert_true(beside_long > 0);
	assert_true(beside_long < 1.2 * beside_short && beside_short < 1.2 * beside_long);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_one_network_asleep_while_another_is_held_is_no_proof),
		cmocka_unit_test(test_a_module_that_stayed_on_is_not_exonerated),
		cmocka_unit_test(
			test_a_module_that_fell_silent_is_exonerated_beside_one_that_did_not),
		cmocka_unit_test(test_a_waker_that_does_not_wake_any_more_while_isolated_is_found),
		cmocka_unit_test(test_sleep_shorter_than_the_wakers_interval_is_no_proof),
		cmocka_unit_test(test_a_refit_noted_late_does_not_mean_it_was_never_off),
		cmocka_unit_test(test_asleep_before_the_isolation_is_no_proof),
		cmocka_unit_test(test_a_wake_up_of_the_usual_length_ends_by_itself),
		cmocka_unit_test(test_a_wake_up_of_a_door_has_its_own_time),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
