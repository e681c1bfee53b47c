/* SPDX-License-Identifier: MIT */
/* Who wakes a network, and who only joins in. */
#include "scene.h"

#define MIN (60 * 1000)

static const char map[] =
	"networks:\n"
	"  body: { interfaces: [can0], bitrate: 500000, sleeps within: 5 min, quiet time: 3 s, "
	"management: { scheme: none } }\n"
	"modules:\n"
	"  roof unit: { ids: [100] }\n"
	"  seat unit: { ids: [200] }\n"
	"  door unit: { ids: [300] }\n";

/* Asleep after the lock, then woken `times` times, every ten minutes: by `first`, alone when
 * `joins` is NULL. */
static const struct nod_findings *wake(struct scene *s, int times, const char *first,
				       const char *joins)
{
	int64_t end = 20 * MIN + times * 10 * MIN;

	scene_begin(s, map);
	mark_at(s, 0, NOD_MARK_LOCKED, "");
	PLAY(s, {0, "100#00", 0, MIN, 100}, {0, "200#00", 0, MIN + 500, 100},
	     {0, "300#00", 0, MIN + 900, 100});
	for (int64_t t = 20 * MIN; t < end; t += 10 * MIN)
		for (int64_t ms = t; ms < t + 8000; ms += 100) {
			frame_at(s, ms, 0, first);
			if (joins && ms > t + 300)
				frame_at(s, ms + 20, 0, joins);
		}
	return found_at(s, end);
}

static void test_the_first_to_speak_is_the_waker(void **state)
{
	(void)state;
	struct scene s;
	const struct nod_findings *f = wake(&s, 5, "200#00", "300#00");
	assert_int_equal(f->verdict, NOD_VERDICT_WOKEN);
	assert_string_equal(evidence(f, "seat unit", NOD_EV_FIRST_SPEAKER),
			    "It spoke first in 5 of 5 wake-ups of body.");
	assert_null(evidence(f, "door unit", NOD_EV_FIRST_SPEAKER));
	assert_string_equal(f->suspects[0].name, "seat unit");
	assert_int_equal(f->suspects[0].role, NOD_ROLE_WAKER);
	scene_end(&s);
}

/* The roof unit speaks first, but the seat unit requests the network ten seconds longer. */
static void test_who_keeps_it_awake_each_time_is_told(void **state)
{
	static const char managed[] =
		"networks:\n"
		"  body: { interfaces: [can0], bitrate: 500000, sleeps within: 5 min, quiet time: 3 s, "
		"management: { scheme: autosar, ids: 500-53F, node byte: 0, control byte: 1 } }\n"
		"modules:\n"
		"  roof unit: { ids: [100], node: 1 }\n"
		"  seat unit: { ids: [200], node: 2 }\n";
	struct scene s;

	(void)state;
	scene_begin(&s, managed);
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	for (int64_t t = 0; t < 50 * MIN; t += 10 * MIN)
		PLAY(&s, {0, "501#0100000000000000", t, t + 2000, 500},
		     {0, "100#00", t + 20, t + 13000, 100},
		     {0, "502#0200000000000000", t + 100, t + 12000, 500},
		     {0, "200#00", t + 120, t + 13000, 100});
	const struct nod_findings *f = found_at(&s, 55 * MIN);
	assert_int_equal(f->verdict, NOD_VERDICT_WOKEN);
	assert_non_null(strstr(evidence(f, "seat unit", NOD_EV_KEPT_IT), "In 4 of 4 wake-ups"));
	assert_null(evidence(f, "roof unit", NOD_EV_KEPT_IT));
	scene_end(&s);
}

static void test_more_wake_ups_make_it_surer(void **state)
{
	(void)state;
	struct scene few, many;
	double once = probability(wake(&few, 1, "200#00", "300#00"), "seat unit");
	double often = probability(wake(&many, 6, "200#00", "300#00"), "seat unit");
	assert_true(often > once);
	scene_end(&few);
	scene_end(&many);
}

static void test_who_alone_speaks_in_a_wake_up_is_told(void **state)
{
	(void)state;
	struct scene s;
	const struct nod_findings *f = wake(&s, 3, "300#00", NULL);
	assert_string_equal(evidence(f, "door unit", NOD_EV_ONLY_SPEAKER),
			    "In 3 of 3 wake-ups nobody else spoke at all.");
	scene_end(&s);
}

static void test_without_wake_ups_nothing_is_said_of_them(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, map);
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, 20 * MIN, 100}, {0, "200#00", 0, 20 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 20 * MIN - 100);
	assert_true(probability(f, "roof unit") > 0);
	assert_null(evidence(f, "roof unit", NOD_EV_FIRST_SPEAKER));
	assert_null(evidence(f, "seat unit", NOD_EV_NOT_FIRST));
	scene_end(&s);
}

static const char managed[] =
	"networks:\n"
	"  body: { interfaces: [can0], bitrate: 500000, sleeps within: 60 s, quiet time: 3 s, "
	"management: { scheme: autosar, ids: 500-53F } }\n"
	"modules:\n"
	"  roof unit: { ids: [100], node: 1 }\n"
	"  seat unit: { ids: [200], node: 2 }\n"
	"  door unit: { ids: [300], node: 3 }\n";

/* All repeat their messages for a second after a wake-up, every `cycle` ms; the door unit goes on
 * asking for `longer` ms. Returns what is said of it. */
static bool is_said_to_have_kept(int64_t cycle, int64_t longer)
{
	struct scene s;

	scene_begin(&s, managed);
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	for (int k = 0; k < 5; k++) {
		int64_t at = k * 2 * MIN;
		for (int64_t ms = at; ms <= at + 1000 + longer; ms += cycle) {
			if (ms <= at + 1000) {
				frame_at(&s, ms, 0, "501#0100FFFFFFFFFFFF");
				frame_at(&s, ms + 1, 0, "502#0200FFFFFFFFFFFF");
			}
			frame_at(&s, ms + 2, 0, "503#0300FFFFFFFFFFFF");
		}
	}
	bool kept = evidence(found_at(&s, 10 * MIN), "door unit", NOD_EV_KEPT_IT);
	scene_end(&s);
	return kept;
}

/* By its own cycles: who asks for three of 500 ms longer does so of its own accord, a second more
 * is an offset or a change of mind. */
static void test_how_much_longer_one_asks_goes_by_its_cycle(void **state)
{
	(void)state;
	assert_true(is_said_to_have_kept(500, 2000));
	assert_false(is_said_to_have_kept(500, 1000));
	assert_false(is_said_to_have_kept(1000, 2000));
	assert_true(is_said_to_have_kept(1000, 4000));
	assert_true(is_said_to_have_kept(100, 1700));
	assert_false(is_said_to_have_kept(100, 1200));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_the_first_to_speak_is_the_waker),
		cmocka_unit_test(test_who_keeps_it_awake_each_time_is_told),
		cmocka_unit_test(test_more_wake_ups_make_it_surer),
		cmocka_unit_test(test_who_alone_speaks_in_a_wake_up_is_told),
		cmocka_unit_test(test_how_much_longer_one_asks_goes_by_its_cycle),
		cmocka_unit_test(test_without_wake_ups_nothing_is_said_of_them),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
