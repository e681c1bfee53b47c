/* SPDX-License-Identifier: MIT */
/* Isolations and refits held against what their messages do, and against each other. */
#include "scene.h"

#define MIN (60 * 1000)
#define MS NOD_NS_PER_MS

static const char body[] =
	"networks:\n"
	"  body: { interfaces: [can0], bitrate: 500000, sleeps within: 10 min, quiet time: 3 s, "
	"management: { scheme: none } }\n"
	"modules:\n"
	"  roof unit: { ids: [100], fuses: [F1] }\n"
	"  seat unit: { ids: [200, 201], fuses: [F2] }\n"
	"  door unit: { ids: [300], fuses: [F2] }\n"
	"fuses:\n"
	"  F1: { rating: 10 A }\n"
	"  F2: { rating: 15 A }\n"
	"  F9: { rating: 5 A }\n";

/* All talk until 20 min, when something is isolated. */
static void talk_until_isolated(struct scene *s, const char *subject)
{
	scene_begin(s, body);
	mark_at(s, 0, NOD_MARK_LOCKED, "");
	PLAY(s, {0, "100#00", 0, 20 * MIN, 100}, {0, "200#00", 10, 20 * MIN, 200},
	     {0, "201#00", 15, 20 * MIN, 500}, {0, "300#00", 20, 20 * MIN, 100});
	mark_at(s, 20 * MIN, NOD_MARK_ISOLATED, subject);
}

static const struct nod_isolation_finding *isolation_at(struct scene *s, int64_t ms)
{
	const struct nod_findings *f = found_at(s, ms);
	assert_int_equal(f->isolation_count, 1);
	return &f->isolations[0];
}

static void roof_goes_on(struct scene *s, int64_t from, int64_t to)
{
	PLAY(s, {0, "100#00", from, to, 100});
}

/* For ten minutes it may be awake with nothing wrong: six are not both ways. */
static void test_awake_for_less_than_it_may_is_not_both_ways(void **state)
{
	(void)state;
	struct scene s;
	talk_until_isolated(&s, "seat unit");
	roof_goes_on(&s, 20 * MIN, 20 * MIN + 15000);
	mark_at(&s, 24 * MIN, NOD_MARK_REFITTED, "the seat unit");
	PLAY(&s, {0, "200#00", 24 * MIN, 28 * MIN, 200});
	assert_non_null(strstr(isolation_at(&s, 28 * MIN - 100)->text, "Not yet proved"));
	PLAY(&s, {0, "200#00", 28 * MIN, 31 * MIN, 200});
	assert_null(strstr(isolation_at(&s, 31 * MIN - 100)->text, "both ways"));
	scene_end(&s);
}

/* Its messages tell that the part is not back, whatever was noted: neither is it cleared by the
 * next sleep, nor proved by the next time awake. */
static void test_a_refit_that_never_happened_tells_nothing(void **state)
{
	(void)state;
	struct scene s;
	talk_until_isolated(&s, "F1");
	PLAY(&s, {0, "200#00", 20 * MIN, 20 * MIN + 15000, 200},
	     {0, "300#00", 20 * MIN + 20, 20 * MIN + 15000, 100});
	mark_at(&s, 24 * MIN, NOD_MARK_REFITTED, "F1");
	PLAY(&s, {0, "200#00", 24 * MIN, 25 * MIN, 200}, {0, "300#00", 24 * MIN, 25 * MIN, 100});
	const struct nod_isolation_finding *t = isolation_at(&s, 34 * MIN);
	assert_int_equal(t->refit, NOD_REFIT_NONE);
	assert_false(nod_time_is_set(t->refitted));
	assert_non_null(strstr(t->text, "none of its messages has come back"));
	scene_end(&s);
}

static void test_awake_past_its_deadline_with_it_out_clears_it(void **state)
{
	(void)state;
	struct scene s;
	talk_until_isolated(&s, "F1");
	PLAY(&s, {0, "200#00", 20 * MIN, 20 * MIN + 15000, 200});
	mark_at(&s, 24 * MIN, NOD_MARK_REFITTED, "F1");
	PLAY(&s, {0, "200#00", 24 * MIN, 50 * MIN, 200}, {0, "300#00", 24 * MIN, 50 * MIN, 100});
	const struct nod_isolation_finding *t = isolation_at(&s, 50 * MIN - 100);
	assert_int_equal(t->result, NOD_ISOLATION_UNCHANGED);
	assert_non_null(strstr(t->text, "still out"));
	scene_end(&s);
}

/* Nobody noted that it was put back: its messages do, in the wake-up that came with it. */
static void test_a_refit_that_nobody_noted_is_seen(void **state)
{
	(void)state;
	struct scene s;
	talk_until_isolated(&s, "F1");
	PLAY(&s, {0, "200#00", 20 * MIN, 20 * MIN + 4000, 200});
	PLAY(&s, {0, "100#00", 30 * MIN, 50 * MIN, 100},
	     {0, "200#00", 30 * MIN + 50, 50 * MIN, 200});
	const struct nod_isolation_finding *t = isolation_at(&s, 50 * MIN - 100);
	assert_int_equal(t->result, NOD_ISOLATION_PROVED);
	assert_int_equal(t->refit, NOD_REFIT_AWAKE);
	assert_int_equal(t->refitted.ns, 30 * MIN * MS);
	assert_non_null(strstr(t->text, "nobody noted it"));
	scene_end(&s);
}

/* The fuse that carries it alone is its plug: out, back and twice out by either name. */
static void test_a_module_and_its_own_fuse_are_one_thing(void **state)
{
	(void)state;
	struct scene s;
	talk_until_isolated(&s, "roof unit");
	PLAY(&s, {0, "200#00", 20 * MIN, 20 * MIN + 4000, 200});
	mark_at(&s, 20 * MIN + 5000, NOD_MARK_ISOLATED, "F1");
	mark_at(&s, 30 * MIN, NOD_MARK_REFITTED, "F1");
	PLAY(&s, {0, "100#00", 30 * MIN, 50 * MIN, 100});
	const struct nod_isolation_finding *t = isolation_at(&s, 50 * MIN - 100);
	assert_int_equal(t->refitted.ns, 30 * MIN * MS);
	assert_int_equal(t->result, NOD_ISOLATION_PROVED);
	scene_end(&s);
}

/* Out for long without change, then another is taken out as well: the sleep is the other's. */
static void test_a_sleep_with_a_second_part_out_is_the_second_s(void **state)
{
	(void)state;
	struct scene s;
	talk_until_isolated(&s, "F1");
	PLAY(&s, {0, "200#00", 20 * MIN, 26 * MIN, 200}, {0, "300#00", 20 * MIN, 26 * MIN, 100});
	mark_at(&s, 26 * MIN, NOD_MARK_ISOLATED, "F2");
	const struct nod_findings *f = found_at(&s, 40 * MIN);
	assert_int_equal(f->isolation_count, 2);
	assert_int_equal(f->isolations[0].result, NOD_ISOLATION_UNCHANGED);
	assert_int_equal(f->isolations[1].result, NOD_ISOLATION_PROVED);
	scene_end(&s);
}

/* Once both ways is proof for each isolation of the same thing. */
static void test_the_second_of_one_thing_is_no_less_proved(void **state)
{
	(void)state;
	struct scene s;
	talk_until_isolated(&s, "F1");
	PLAY(&s, {0, "200#00", 20 * MIN, 20 * MIN + 4000, 200});
	mark_at(&s, 24 * MIN, NOD_MARK_REFITTED, "F1");
	PLAY(&s, {0, "100#00", 24 * MIN, 40 * MIN, 100},
	     {0, "200#00", 24 * MIN, 40 * MIN + 4000, 200});
	mark_at(&s, 40 * MIN, NOD_MARK_ISOLATED, "F1");
	const struct nod_findings *f = found_at(&s, 42 * MIN);
	assert_int_equal(f->isolation_count, 2);
	assert_int_equal(f->isolations[1].result, NOD_ISOLATION_PROVED);
	assert_non_null(strstr(f->isolations[1].text, "together, both ways"));
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_awake_for_less_than_it_may_is_not_both_ways),
		cmocka_unit_test(test_a_refit_that_never_happened_tells_nothing),
		cmocka_unit_test(test_awake_past_its_deadline_with_it_out_clears_it),
		cmocka_unit_test(test_a_refit_that_nobody_noted_is_seen),
		cmocka_unit_test(test_a_module_and_its_own_fuse_are_one_thing),
		cmocka_unit_test(test_a_sleep_with_a_second_part_out_is_the_second_s),
		cmocka_unit_test(test_the_second_of_one_thing_is_no_less_proved),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
