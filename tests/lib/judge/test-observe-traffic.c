/* SPDX-License-Identifier: MIT */
/* Who speaks while a network is kept awake, who has stopped, and who is alone in the end. */
#include "scene.h"

#define MIN (60 * 1000)

static const char map[] =
	"networks:\n"
	"  body: { interfaces: [can0], bitrate: 500000, sleeps within: 5 min, quiet time: 3 s, "
	"management: { scheme: none } }\n"
	"modules:\n"
	"  roof unit: { ids: [100] }\n"
	"  seat unit: { ids: [200] }\n"
	"  door unit: { ids: [300, 301] }\n";

/* The roof until 30 min, the seat and the door until theirs. */
static const struct nod_findings *talk(struct scene *s, int64_t seat, int64_t door, int64_t end)
{
	scene_begin(s, map);
	mark_at(s, 0, NOD_MARK_LOCKED, "");
	PLAY(s, {0, "100#00", 0, 30 * MIN, 100}, {0, "200#00", 10, seat, 100},
	     {0, "300#00", 20, door, 100});
	return found_at(s, end);
}

static void test_who_is_alone_is_told_with_times(void **state)
{
	(void)state;
	struct scene s;
	const struct nod_findings *f = talk(&s, 8 * MIN, 10 * MIN, 30 * MIN - 100);
	const char *text = evidence(f, "roof unit", NOD_EV_ALONE);
	assert_non_null(text);
	assert_non_null(strstr(text, "the only one on body"));
	assert_true(probability(f, "roof unit") > 0.9);
	scene_end(&s);
}

static void test_who_stopped_is_not_the_holder(void **state)
{
	(void)state;
	struct scene s;
	const struct nod_findings *f = talk(&s, 30 * MIN, 12 * MIN, 30 * MIN - 100);
	assert_null(evidence(f, "roof unit", NOD_EV_ALONE));
	assert_null(evidence(f, "seat unit", NOD_EV_ALONE));
	assert_null(evidence(f, "seat unit", NOD_EV_STOPPED));
	assert_non_null(evidence(f, "door unit", NOD_EV_STOPPED));
	assert_true(probability(f, "door unit") < probability(f, "seat unit") / 10);
	scene_end(&s);
}

/* Five of its periods, though others would have stopped in that time. */
static void test_who_speaks_seldom_has_not_stopped(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, map);
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	int64_t end = 29 * MIN + 40000;
	PLAY(&s, {0, "100#00", 0, end, 100}, {0, "200#00", 10, end, 100},
	     {0, "300#00", 20, 29 * MIN, 12000});
	const struct nod_findings *f = found_at(&s, end - 100);
	assert_null(evidence(f, "door unit", NOD_EV_STOPPED));
	scene_end(&s);
}

/* The roof and the seat talk on; the door once a period for so long, and then it is silent. */
static const struct nod_findings *seldom(struct scene *s, int64_t period, int64_t spoke,
					 int64_t silent)
{
	scene_begin(s, map);
	mark_at(s, 0, NOD_MARK_LOCKED, "");
	PLAY(s, {0, "100#00", 0, spoke + silent, 100}, {0, "200#00", 10, spoke + silent, 100},
	     {0, "300#00", 20, spoke, period});
	return found_at(s, spoke + silent);
}

/* A message's own period decides: with many of them before the deadline, with none, with three in
 * all; five of them later it has stopped. */
static void test_who_speaks_once_a_minute_has_not_stopped(void **state)
{
	(void)state;
	static const struct {
		int64_t period, spoke, silent;
		bool stopped;
	} cases[] = {{20000, 20 * MIN, 55000, false},   {60000, 20 * MIN, 55000, false},
		     {300000, 40 * MIN, 290000, false}, {100000, 301000, 90000, false},
		     {60000, 20 * MIN, 5 * MIN, true},  {20000, 20 * MIN, 2 * MIN, true}};
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct scene s;
		const struct nod_findings *f = seldom(&s, cases[i].period, cases[i].spoke,
						      cases[i].silent);
		assert_int_equal(cases[i].stopped,
				 evidence(f, "door unit", NOD_EV_STOPPED) != NULL);
		if (!cases[i].stopped)
			assert_true(probability(f, "door unit") > 0.3);
		scene_end(&s);
	}
}

/* Who kept to an interval and does so no more has stopped; who spoke twice may have said all. */
static void test_to_have_stopped_weighs_more_of_who_kept_an_interval(void **state)
{
	(void)state;
	double weights[2] = {0, 0};
	for (int paced = 0; paced < 2; paced++) {
		struct scene s;
		const struct nod_findings *f = seldom(&s, paced ? 100 : 7000, 12000, 20 * MIN);
		const struct nod_suspect *door = suspect(f, "door unit");
		for (size_t i = 0; i < door->evidence_count; i++)
			if (door->evidence[i].kind == NOD_EV_STOPPED)
				weights[paced] = door->evidence[i].weight;
		scene_end(&s);
	}
	assert_true(weights[0] < 0 && weights[1] < 2 * weights[0]);
}

/* A fast message that ends with the slow one going on is no stop either. */
static void test_a_slow_message_that_goes_on_is_a_voice(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, map);
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, 30 * MIN, 100}, {0, "200#00", 10, 30 * MIN, 100},
	     {0, "300#00", 20, 4 * MIN, 100}, {0, "301#00", 25, 30 * MIN, 60000});
	assert_null(evidence(found_at(&s, 30 * MIN - 2000), "door unit", NOD_EV_STOPPED));
	scene_end(&s);
}

/* Beside one who speaks every two minutes nobody is alone before his turn has passed. */
static void test_who_waits_for_his_turn_leaves_nobody_alone(void **state)
{
	(void)state;
	struct scene s;
	for (int late = 0; late < 2; late++) {
		int64_t end = 20 * MIN + 20 + (late ? 220000 : 110000);
		scene_begin(&s, map);
		mark_at(&s, 0, NOD_MARK_LOCKED, "");
		PLAY(&s, {0, "100#00", 0, end, 100}, {0, "300#00", 20, 20 * MIN + 100, 120000});
		const struct nod_findings *f = found_at(&s, end);
		assert_int_equal(late, evidence(f, "roof unit", NOD_EV_ALONE) != NULL);
		scene_end(&s);
	}
}

/* All others fall silent for five seconds, so many times. */
static const struct nod_findings *alone_at_times(struct scene *s, int64_t times)
{
	scene_begin(s, map);
	mark_at(s, 0, NOD_MARK_LOCKED, "");
	for (int64_t from = 0; from < 30 * MIN; from += 5 * MIN) {
		int64_t until = from + 5 * MIN - (from && from <= times * 5 * MIN ? 5000 : 0);
		PLAY(s, {0, "100#00", from, from + 5 * MIN, 100},
		     {0, "200#00", from + 10, until, 100}, {0, "300#00", from + 20, until, 100});
	}
	return found_at(s, 30 * MIN - 100);
}

static void test_alone_now_and_then_is_told_when_it_is_often(void **state)
{
	(void)state;
	struct scene twice, often;
	assert_null(evidence(alone_at_times(&twice, 2), "roof unit", NOD_EV_ALONE));
	const char *text = evidence(alone_at_times(&often, 3), "roof unit", NOD_EV_ALONE);
	assert_non_null(text);
	assert_non_null(strstr(text, "In 3 stretches"));
	scene_end(&twice);
	scene_end(&often);
}

static void test_the_last_before_a_late_sleep_is_told(void **state)
{
	(void)state;
	struct scene s;
	const struct nod_findings *f = talk(&s, 30 * MIN - 6000, 30 * MIN - 7000, 45 * MIN);
	assert_int_equal(f->verdict, NOD_VERDICT_KEPT_AWAKE);
	assert_true(evidence(f, "roof unit", NOD_EV_LAST_TO_STOP) ||
		    evidence(f, "roof unit", NOD_EV_ALONE));
	assert_null(evidence(f, "seat unit", NOD_EV_LAST_TO_STOP));
	assert_true(probability(f, "roof unit") > probability(f, "seat unit"));
	scene_end(&s);
}

/* Before the deadline the same is seen, and says less. */
static void test_before_the_deadline_it_weighs_less(void **state)
{
	(void)state;
	struct scene early, late;
	const struct nod_findings *f = talk(&late, MIN, 2 * MIN, 30 * MIN - 100);
	double after = probability(f, "roof unit");
	scene_begin(&early, map);
	mark_at(&early, 0, NOD_MARK_LOCKED, "");
	PLAY(&early, {0, "100#00", 0, 4 * MIN, 100}, {0, "200#00", 10, MIN, 100},
	     {0, "300#00", 20, 2 * MIN, 100});
	const struct nod_findings *before = found_at(&early, 4 * MIN - 100);
	assert_int_equal(before->verdict, NOD_VERDICT_CANNOT_TELL);
	assert_true(probability(before, "roof unit") < after);
	scene_end(&early);
	scene_end(&late);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_who_is_alone_is_told_with_times),
		cmocka_unit_test(test_who_stopped_is_not_the_holder),
		cmocka_unit_test(test_who_speaks_seldom_has_not_stopped),
		cmocka_unit_test(test_who_speaks_once_a_minute_has_not_stopped),
		cmocka_unit_test(test_to_have_stopped_weighs_more_of_who_kept_an_interval),
		cmocka_unit_test(test_a_slow_message_that_goes_on_is_a_voice),
		cmocka_unit_test(test_who_waits_for_his_turn_leaves_nobody_alone),
		cmocka_unit_test(test_alone_now_and_then_is_told_when_it_is_often),
		cmocka_unit_test(test_the_last_before_a_late_sleep_is_told),
		cmocka_unit_test(test_before_the_deadline_it_weighs_less),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
