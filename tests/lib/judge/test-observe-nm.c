/* SPDX-License-Identifier: MIT */
/* What rings say of who wants the network, and of who does not. */
#include "scene.h"

#define MIN (60 * 1000)

static const char car[] =
	"networks:\n"
	"  body: { interfaces: [can0], bitrate: 500000, sleeps within: 60 s, quiet time: 6 s, "
	"management: { scheme: osek, ids: 500-53F } }\n"
	"modules:\n"
	"  roof unit: { networks: [body], ids: [100], node: 1 }\n"
	"  seat unit: { networks: [body], ids: [200], node: 2 }\n"
	"  door unit: { networks: [body], ids: [300], node: 3 }\n"
	"  lamp unit: { networks: [body], ids: [400], node: 4 }\n";

static void begin(struct scene *s)
{
	scene_begin(s, car);
	mark_at(s, 0, NOD_MARK_LOCKED, "");
}

/* Three rounds of the ring 1 > 2 > 3, all ready, and an acknowledge. */
static void one_ring(struct scene *s, int64_t at)
{
	frame_at(s, at + 5, 0, "501#0111000000000000");
	frame_at(s, at + 6, 0, "502#0211000000000000");
	frame_at(s, at + 7, 0, "503#0311000000000000");
	for (int i = 0; i < 3; i++) {
		int64_t then = at + 100 + 300 * i;
		frame_at(s, then, 0, "501#0212000000000000");
		frame_at(s, then + 100, 0,
			 i == 2 ? "502#0332000000000000" : "502#0312000000000000");
		if (i < 2)
			frame_at(s, then + 200, 0, "503#0112000000000000");
	}
}

/* The management of the lamp unit has died, it talks on, with pauses of its own, and seldom enough
 * that nobody is silent for longer than it. Nobody in the ring wants the network, each time. */
static void test_a_ring_that_goes_to_sleep_again_and_again_wants_nothing(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "504#0402000000000000", 0, 10000, 1000});
	int turn = 0;
	for (int64_t at = 10000; at < 5 * MIN; at += ++turn % 8 ? 1200 : 5000) {
		frame_at(&s, at, 0, "400#00");
		one_ring(&s, at);
	}
	const struct nod_findings *f = found_at(&s, 5 * MIN);
	assert_string_equal(f->suspects[0].name, "lamp unit");
	assert_true(f->suspects[0].probability > 0.9);
	assert_non_null(
		strstr(evidence(f, "roof unit", NOD_EV_NM_READY), "so were all of the ring"));
	scene_end(&s);
}

/* The same with long silences of all others; one joined late and asked for a moment, and is ready
 * ever after. That holds nothing: who never pauses is named. */
static void test_who_joins_late_and_lets_go_holds_nothing(void **state)
{
	(void)state;
	static const char *const ring[] = {"501#0212000000000000", "502#0312000000000000",
					   "503#0112000000000000"};
	struct scene s;
	begin(&s);
	for (int64_t at = 0; at < 5 * MIN; at += 100) {
		bool asks = at >= 2 * MIN && at < 2 * MIN + 3000;
		frame_at(&s, at, 0, "400#00");
		if (at % 6000 >= 4000)
			continue;
		int turn = (int)(at / 100 * (at / 700) % 11 % 3); /* at no period */
		frame_at(&s, at + 1, 0, turn == 2 && asks ? "503#0102000000000000" : ring[turn]);
		frame_at(&s, at + 2, 0, "100#00");
		frame_at(&s, at + 3, 0, "200#00");
	}
	const struct nod_findings *f = found_at(&s, 5 * MIN);
	assert_string_equal(f->suspects[0].name, "lamp unit");
	assert_true(f->suspects[0].probability > 0.9);
	scene_end(&s);
}

/* Two never give the indication. One has nothing else to say than its ring messages, the other
 * never stops: that tells nothing where the ring is held, and turns more slowly. */
static void test_who_speaks_seldom_holds_a_ring_as_well(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "501#0202000000000000", 0, MIN, 1000},
	     {0, "502#0312000000000000", 250, MIN, 1000},
	     {0, "503#0402000000000000", 500, MIN, 1000},
	     {0, "504#0112000000000000", 750, MIN, 1000}, {0, "300#00", 10, MIN, 50});
	for (int64_t at = MIN; at < 5 * MIN; at += 50) {
		frame_at(&s, at, 0, "300#00");
		if (at % 500)
			continue;
		frame_at(&s, at + 1, 0, /* one after another, each twice */
			 at % 4000 < 1000   ? "501#0202000000000000"
			 : at % 4000 < 2000 ? "502#0312000000000000"
			 : at % 4000 < 3000 ? "503#0402000000000000"
					    : "504#0112000000000000");
	}
	const struct nod_findings *f = found_at(&s, 5 * MIN);
	assert_true(probability(f, "roof unit") > 0.9);
	assert_true(probability(f, "door unit") > 0.9);
	assert_true(probability(f, "seat unit") < 0.05);
	scene_end(&s);
}

/* One line wakes all; the seat unit is fastest to start, each time. In each the door unit alone asks
 * for the network for a while. */
static void test_who_alone_asks_is_the_waker_whoever_starts_fastest(void **state)
{
	(void)state;
	static const int64_t roof_ms[] = {10, 42, 5, 60, 27}, door_ms[] = {13, 44, 9, 62, 31};
	struct scene s;
	begin(&s);
	one_ring(&s, 1000);
	for (int k = 0; k < 5; k++) {
		int64_t at = 2 * MIN + k * 40000;
		frame_at(&s, at, 0, "502#0211000000000000");
		frame_at(&s, at + roof_ms[k], 0, "501#0111000000000000");
		frame_at(&s, at + door_ms[k], 0, "503#0301000000000000");
		for (int i = 0; i < 4; i++) {
			frame_at(&s, at + 200 + 300 * i, 0, "501#0212000000000000");
			frame_at(&s, at + 300 + 300 * i, 0, "502#0312000000000000");
			frame_at(&s, at + 400 + 300 * i, 0,
				 i < 3 ? "503#0102000000000000" : "503#0112000000000000");
		}
		one_ring(&s, at + 1500);
	}
	const struct nod_findings *f = found_at(&s, 2 * MIN + 5 * 40000);
	assert_string_equal(f->suspects[0].name, "door unit");
	assert_true(f->suspects[0].probability > 0.9);
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_a_ring_that_goes_to_sleep_again_and_again_wants_nothing),
		cmocka_unit_test(test_who_joins_late_and_lets_go_holds_nothing),
		cmocka_unit_test(test_who_speaks_seldom_holds_a_ring_as_well),
		cmocka_unit_test(test_who_alone_asks_is_the_waker_whoever_starts_fastest),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
