/* SPDX-License-Identifier: MIT */
/* Somebody at a car that is held awake: what he wakes is no second fault. */
#include "scene.h"

#define MIN (60 * 1000)

#define NETWORK(name, interface)                                                              \
	"  " name ": { interfaces: [" interface "], bitrate: 500000, sleeps within: 10 min, " \
	"quiet time: 3 s, management: { scheme: none } }\n"

static const char modules[] = "modules:\n"
			      "  door unit: { ids: [100] }\n"
			      "  seat unit: { ids: [200] }\n"
			      "  engine unit: { ids: [400] }\n"
			      "  gearbox unit: { ids: [500] }\n";
static const char networks[] = "networks:\n" NETWORK("body", "can0") NETWORK("drive", "can1");

/* Body sleeps and is woken by the door unit after these minutes, each time for `more` ms longer; drive is held by the engine
 * unit alone. */
static const struct nod_findings *play_visits(struct scene *s, const int *minutes, int visits,
					      int more)
{
	char map[sizeof(networks) + sizeof(modules)];
	snprintf(map, sizeof(map), "%s%s", networks, modules);
	scene_begin(s, map);
	mark_at(s, 0, NOD_MARK_LOCKED, "");
	PLAY(s, {0, "100#00", 0, MIN, 100}, {0, "200#00", 10, MIN + 700, 100},
	     {1, "400#00", 0, MIN + 900, 100}, {1, "500#00", 20, MIN, 100});
	int64_t at = MIN + 900;
	for (int i = 0; i < visits; i++) {
		int64_t from = minutes[i] * (int64_t)MIN;
		PLAY(s, {1, "400#00", at, from, 100});
		at = from + 9000 + more * i;
		PLAY(s, {0, "100#00", from, from + 8000 + more * i, 100},
		     {0, "200#00", from + 250, from + 7100 + more * i, 100},
		     {1, "400#00", from + 50, at, 100});
	}
	PLAY(s, {1, "400#00", at, 60 * MIN, 100});
	return found_at(s, 60 * MIN);
}

static void test_wake_ups_now_and_then_of_a_held_car_are_a_visit(void **state)
{
	(void)state;
	static const int minutes[] = {25, 31, 47};
	struct scene s;
	const struct nod_findings *f = play_visits(&s, minutes, 3, 12000);
	assert_string_equal(f->suspects[0].name, "engine unit");
	assert_true(probability(f, "engine unit") > 0.9);
	assert_true(probability(f, "door unit") < 0.7);
	scene_end(&s);
}

/* A timer does not come and go as people do. */
static void test_wake_ups_by_a_clock_stay_a_second_fault(void **state)
{
	(void)state;
	static const int minutes[] = {20, 28, 36, 44, 52};
	struct scene s;
	const struct nod_findings *f = play_visits(&s, minutes, 5, 0);
	assert_true(probability(f, "engine unit") > 0.9);
	assert_true(probability(f, "door unit") > 0.8);
	scene_end(&s);
}

/* Both networks sleep and are woken by turns, by a unit of each, at any time and for any length. */
static const struct nod_findings *play_rounds(struct scene *s, const int *minutes, int rounds)
{
	static const int lengths[] = {8000, 31000, 17000, 52000};
	char map[sizeof(networks) + sizeof(modules)];
	snprintf(map, sizeof(map), "%s%s", networks, modules);
	scene_begin(s, map);
	mark_at(s, 0, NOD_MARK_LOCKED, "");
	PLAY(s, {0, "100#00", 0, MIN, 100}, {0, "200#00", 10, MIN + 700, 100},
	     {1, "400#00", 0, MIN + 900, 100}, {1, "500#00", 20, MIN, 100});
	for (int i = 0; i < rounds; i++) {
		int64_t from = minutes[i] * (int64_t)MIN, engine = from + 20000 - 40000 * (i % 2);
		PLAY(s, {0, "100#00", from, from + lengths[i % 4], 100},
		     {0, "200#00", from + 250, from + lengths[i % 4] - 900, 100});
		PLAY(s, {1, "400#00", engine, engine + lengths[(i + 1) % 4], 100},
		     {1, "500#00", engine + 240, engine + lengths[(i + 1) % 4] - 700, 100});
	}
	return found_at(s, 60 * MIN);
}

/* That he stirs units of two networks is one visit, not two faults: though the same two are first each
 * time, which says that they may be. */
static void test_somebody_at_the_car_wakes_more_than_one_network(void **state)
{
	(void)state;
	static const int minutes[] = {19, 22, 37, 50};
	struct scene s;
	const struct nod_findings *f = play_rounds(&s, minutes, 4);
	assert_int_equal(f->verdict, NOD_VERDICT_WOKEN);
	assert_true(probability(f, "door unit") < 0.8);
	assert_true(probability(f, "engine unit") < 0.8);
	assert_true(probability(f, "somebody at the car, not noted") > 0.2);
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_wake_ups_now_and_then_of_a_held_car_are_a_visit),
		cmocka_unit_test(test_wake_ups_by_a_clock_stay_a_second_fault),
		cmocka_unit_test(test_somebody_at_the_car_wakes_more_than_one_network),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
