/* SPDX-License-Identifier: MIT */
/* What the networks say together, and whom the sentence names. */
#include "scene.h"

#define MIN (60 * 1000)

static const char two[] =
	"limits: { key-off current: 50 mA }\n"
	"networks:\n"
	"  body: { interfaces: [can0], bitrate: 500000, sleeps within: 10 min, quiet time: 3 s }\n"
	"  drive: { interfaces: [can1], bitrate: 500000, sleeps within: 10 min, quiet time: 3 s }\n"
	"modules:\n"
	"  door unit: { networks: [body], ids: [100] }\n"
	"  engine unit: { networks: [drive], ids: [200] }\n";

static void begin(struct scene *s)
{
	scene_begin(s, two);
	mark_at(s, 0, NOD_MARK_LOCKED, "");
}

static void samples(struct scene *s, int64_t from, int64_t to, int64_t ua)
{
	for (int64_t t = from; t < to; t += 100) {
		struct nod_event e = {.kind = NOD_EVENT_CURRENT, .time = {t * NOD_NS_PER_MS}};
		e.current.microamps = ua + t / 100 % 3 * 300;
		scene_take(s, &e);
	}
}

static void test_all_asleep_is_sleep_and_names_nobody(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "100#00", 0, 2 * MIN, 100}, {1, "200#00", 0, 3 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_int_equal(f->verdict, NOD_VERDICT_SLEEPS);
	assert_int_equal(f->culprit, NOD_NONE);
	assert_string_equal(f->sentence, "body and drive sleep in time, every network heard.");
	scene_end(&s);
}

static void test_one_that_is_undecided_keeps_all_undecided(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "100#00", 0, MIN, 100}, {1, "200#00", 0, 9 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 9 * MIN - 100);
	assert_int_equal(f->networks[0].verdict, NOD_VERDICT_SLEEPS);
	assert_int_equal(f->networks[1].verdict, NOD_VERDICT_CANNOT_TELL);
	assert_int_equal(f->verdict, NOD_VERDICT_CANNOT_TELL);
	assert_int_equal(f->culprit, NOD_NONE);
	scene_end(&s);
}

/* Kept awake is worse than woken, and a finding worse than what is not known yet. */
static void test_the_worst_network_decides(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "100#00", 0, 30 * MIN, 100}, {1, "200#00", 0, MIN, 100},
	     {1, "201#00", 15 * MIN, 15 * MIN + 5000, 100},
	     {1, "200#00", 15 * MIN + 10, 15 * MIN + 5000, 100});
	const struct nod_findings *f = found_at(&s, 30 * MIN - 100);
	assert_int_equal(f->networks[0].verdict, NOD_VERDICT_KEPT_AWAKE);
	assert_int_equal(f->networks[1].verdict, NOD_VERDICT_WOKEN);
	assert_int_equal(f->verdict, NOD_VERDICT_KEPT_AWAKE);
	assert_int_equal(f->culprit, 0);
	assert_string_equal(f->suspects[f->culprit].name, "door unit");
	assert_non_null(strstr(f->sentence, "door unit"));
	scene_end(&s);
}

static void test_nothing_heard_is_not_sleep(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	const struct nod_findings *f = found_at(&s, 60 * MIN);
	assert_int_equal(f->verdict, NOD_VERDICT_CANNOT_TELL);
	assert_non_null(strstr(f->sentence, "no frame at all"));
	scene_end(&s);
}

/* ISO 15765-4: functional request 7DF, answer 7E8. */
static void test_a_tester_alone_says_nothing_of_the_car(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "7DF#023E000000000000", 0, 20 * MIN, 2000},
	     {0, "7E8#027E000000000000", 20, 20 * MIN, 2000});
	const struct nod_findings *f = found_at(&s, 20 * MIN);
	assert_int_equal(f->verdict, NOD_VERDICT_CANNOT_TELL);
	assert_non_null(strstr(f->sentence, "diagnostic tester"));
	scene_end(&s);
}

static void test_the_pauses_of_a_tester_are_no_sleep(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "7DF#023E000000000000", 0, 2 * MIN, 2000});
	PLAY(&s, {0, "7DF#023E000000000000", 7 * MIN, 9 * MIN, 2000});
	const struct nod_findings *f = found_at(&s, 20 * MIN);
	assert_int_equal(f->networks[0].span_count, 2);
	assert_false(f->networks[0].spans[0].slept_after);
	assert_false(f->networks[0].spans[1].slept_before);
	assert_int_equal(f->wake_count, 0);
	assert_int_equal(f->hole_count, 0);
	scene_end(&s);
}

static void test_a_sleeping_car_that_draws_too_much_draws(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "100#00", 0, MIN, 100}, {1, "200#00", 0, 2 * MIN, 100});
	samples(&s, 2 * MIN, 40 * MIN, 400000);
	const struct nod_findings *f = found_at(&s, 40 * MIN);
	assert_int_equal(f->networks[0].verdict, NOD_VERDICT_SLEEPS);
	assert_int_equal(f->verdict, NOD_VERDICT_DRAWS);
	assert_non_null(strstr(f->sentence, "limit 50 mA"));
	scene_end(&s);
}

static void test_a_sleeping_car_that_draws_little_sleeps(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "100#00", 0, MIN, 100}, {1, "200#00", 0, 2 * MIN, 100});
	samples(&s, 2 * MIN, 40 * MIN, 9000);
	assert_int_equal(found_at(&s, 40 * MIN)->verdict, NOD_VERDICT_SLEEPS);
	scene_end(&s);
}

/* Asked twice, nothing changes. */
static void test_findings_change_nothing(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "100#00", 0, 20 * MIN, 100}, {1, "200#00", 0, MIN, 100});
	char *once = answer_text(found_at(&s, 20 * MIN - 100));
	char *again = answer_text(found_at(&s, 20 * MIN - 100));
	assert_string_equal(once, again);
	free(once);
	free(again);
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_all_asleep_is_sleep_and_names_nobody),
		cmocka_unit_test(test_one_that_is_undecided_keeps_all_undecided),
		cmocka_unit_test(test_the_worst_network_decides),
		cmocka_unit_test(test_nothing_heard_is_not_sleep),
		cmocka_unit_test(test_a_tester_alone_says_nothing_of_the_car),
		cmocka_unit_test(test_the_pauses_of_a_tester_are_no_sleep),
		cmocka_unit_test(test_a_sleeping_car_that_draws_too_much_draws),
		cmocka_unit_test(test_a_sleeping_car_that_draws_little_sleeps),
		cmocka_unit_test(test_findings_change_nothing),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
