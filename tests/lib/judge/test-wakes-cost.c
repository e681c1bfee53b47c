/* SPDX-License-Identifier: MIT */
#include "scene.h"

#define S 1000
#define MIN (60 * S)

static void sample_at(struct scene *s, int64_t ms, int64_t microamps)
{
	struct nod_event e = {.kind = NOD_EVENT_CURRENT, .time = {ms * NOD_NS_PER_MS}};

	e.current.microamps = microamps;
	assert_int_equal(nod_engine_take(s->engine, &e), 0);
}

/* Two modules for a minute, the way to sleep, then one that wakes the network for 5 s every
 * `every`, up to `end`. With ua: the current is recorded, and a wake-up takes so much. */
static const struct nod_findings *car(struct scene *s, const char *vehicle, int64_t every,
				      int64_t end, int64_t ua)
{
	scene_begin(s, vehicle);
	mark_at(s, 0, NOD_MARK_STARTED, "");
	mark_at(s, 0, NOD_MARK_LOCKED, "");
	PLAY(s, {0, "100#00", 0, MIN, 100}, {0, "200#00", 0, MIN + 20 * S, 100});
	for (int64_t at = every; at < end; at += every + 17 * S)
		PLAY(s, {0, "200#00", at + at / 1777 % 89, at + 5 * S, 100},
		     {0, "100#00", at + 311, at + 4 * S, 100});
	for (int64_t t = 0; ua && t < end; t += S) {
		int64_t since = t % (every + 17 * S) - every % (every + 17 * S);
		bool awake = t < MIN + 20 * S || (t >= every && since >= 0 && since < 5 * S);
		sample_at(s, t, awake ? ua : 9000);
	}
	return found_at(s, end);
}

#define BATTERY(ah)                                                       \
	"battery: {capacity: " #ah                                        \
	" Ah}\nnetworks:\n  body: {interfaces: [can0], bitrate: 500000, " \
	"sleeps within: 5 min}\n"

static size_t fact_that_says(const struct nod_findings *f, const char *text)
{
	size_t i = 0;

	while (i < f->fact_count && !strstr(f->facts[i], text))
		i++;
	assert_true(i < f->fact_count);
	return i;
}

static bool is_told(const struct nod_findings *f, const char *text)
{
	for (size_t i = 0; i < f->fact_count; i++)
		if (strstr(f->facts[i], text))
			return true;
	return strstr(f->networks[0].reason, text) != NULL;
}

/* 5 s and 10 s after it every 30 min: 0.8 %, at 2 A 400 mAh a day. */
static void test_the_assumed_current_decides_where_none_is_measured(void **state)
{
	(void)state;
	struct scene s;
	const struct nod_findings *f = car(&s, NULL, 30 * MIN, 6 * 60 * MIN, 0);
	assert_int_equal(f->verdict, NOD_VERDICT_WOKEN);
	assert_true(is_told(f, "at 2 A awake (assumed)"));
	assert_true(is_told(f, "that flattens it in time"));
	scene_end(&s);
}

/* Of a car that sleeps all the same, what they come to stands before when each was. */
static void test_the_sum_is_told_first(void **state)
{
	(void)state;
	struct scene s;
	const struct nod_findings *f = car(&s, NULL, 10 * 60 * MIN, 30 * 60 * MIN, 0);
	assert_int_equal(f->verdict, NOD_VERDICT_SLEEPS);
	assert_true(fact_that_says(f, "too little to flatten") < fact_that_says(f, "was woken at"));
	scene_end(&s);
}

/* 300 mA for 5 s every 30 min is 20 mAh a day. */
static void test_the_measured_current_decides(void **state)
{
	(void)state;
	struct scene s;
	const struct nod_findings *f = car(&s, BATTERY(70), 30 * MIN, 6 * 60 * MIN, 309000);
	assert_int_equal(f->verdict, NOD_VERDICT_SLEEPS);
	assert_true(is_told(f, "as measured"));
	assert_true(is_told(f, "of the battery's 70 Ah"));
	assert_true(is_told(f, "too little to flatten a battery"));
	scene_end(&s);
	f = car(&s, BATTERY(70), 30 * MIN, 6 * 60 * MIN, 8009000); /* 8 A: 530 mAh */
	assert_int_equal(f->verdict, NOD_VERDICT_WOKEN);
	scene_end(&s);
}

/* 0.5 % of it a day. */
static void test_the_battery_decides(void **state)
{
	(void)state;
	struct scene s;
	assert_int_equal(car(&s, BATTERY(40), 30 * MIN, 6 * 60 * MIN, 0)->verdict,
			 NOD_VERDICT_WOKEN);
	scene_end(&s);
	assert_int_equal(car(&s, BATTERY(140), 30 * MIN, 6 * 60 * MIN, 0)->verdict,
			 NOD_VERDICT_SLEEPS);
	scene_end(&s);
}

/* A trace that does not follow the network tells nothing of its wake-ups. */
static void test_a_trace_of_another_clock_is_not_taken(void **state)
{
	(void)state;
	struct scene s;
	const struct nod_findings *f = car(&s, NULL, 30 * MIN, 6 * 60 * MIN, 9000);
	assert_int_equal(f->verdict, NOD_VERDICT_WOKEN);
	assert_true(is_told(f, "assumed"));
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_the_assumed_current_decides_where_none_is_measured),
		cmocka_unit_test(test_the_sum_is_told_first),
		cmocka_unit_test(test_the_measured_current_decides),
		cmocka_unit_test(test_the_battery_decides),
		cmocka_unit_test(test_a_trace_of_another_clock_is_not_taken),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
