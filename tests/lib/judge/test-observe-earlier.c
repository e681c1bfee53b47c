/* SPDX-License-Identifier: MIT */
#include "scene.h"

#define MIN (60 * 1000)

#define MODULES                                      \
	"  roof unit: { ids: [100], fuses: [F1] }\n" \
	"  seat unit: { ids: [200], fuses: [F2] }\n" \
	"  door unit: { ids: [300], fuses: [F3] }\n"
#define NETWORK                                                                  \
	"networks:\n"                                                            \
	"  body: { interfaces: [can0], sleeps within: 10 min, quiet time: 3 s, " \
	"management: { scheme: none } }\n"
#define FUSES "fuses: { F1: { rating: 5 A }, F2: { rating: 5 A }, F3: { rating: 5 A } }\n"

static const char body[] = NETWORK "modules:\n" MODULES FUSES;

/* The same car, its file written anew in another order: names count. */
static const char reordered[] = NETWORK
	"fuses: { F3: { rating: 5 A }, F2: { rating: 5 A }, F1: { rating: 5 A } }\n"
	"modules:\n"
	"  new unit: { ids: [400] }\n"
	"  door unit: { ids: [300], fuses: [F3] }\n"
	"  seat unit: { ids: [200], fuses: [F2] }\n"
	"  roof unit: { ids: [100], fuses: [F1] }\n";

static void talk_on(struct scene *s, const char *vehicle, int64_t to)
{
	scene_begin(s, vehicle);
	mark_at(s, 0, NOD_MARK_STARTED, "");
	mark_at(s, 0, NOD_MARK_LOCKED, "");
	PLAY(s, {0, "100#00", 0, to, 100}, {0, "200#00", 10, to, 100}, {0, "300#00", 20, to, 100});
}

/* Session one: the roof unit's fuse changed nothing. */
static void isolate_roof_in_vain(struct scene *s)
{
	talk_on(s, body, 20 * MIN);
	mark_at(s, 20 * MIN, NOD_MARK_ISOLATED, "F1");
	PLAY(s, {0, "200#00", 20 * MIN, 32 * MIN, 100}, {0, "300#00", 20 * MIN, 32 * MIN, 100});
	assert_int_equal(found_at(s, 32 * MIN - 100)->isolations[0].result,
			 NOD_ISOLATION_UNCHANGED);
}

static void test_what_one_session_excludes_stays_excluded(void **state)
{
	(void)state;
	struct scene one, two;
	isolate_roof_in_vain(&one);
	talk_on(&two, body, 30 * MIN);
	assert_int_equal(nod_engine_add_earlier(two.engine, one.found), 0);
	const struct nod_findings *f = found_at(&two, 30 * MIN);
	assert_true(probability(f, "roof unit") < 0.03);
	assert_true(probability(f, "seat unit") > 0.3);
	scene_end(&two);
	scene_end(&one);
}

static void test_a_file_in_another_order_is_the_same_car(void **state)
{
	(void)state;
	struct scene one, two;
	isolate_roof_in_vain(&one);
	talk_on(&two, reordered, 30 * MIN);
	assert_int_equal(nod_engine_add_earlier(two.engine, one.found), 0);
	const struct nod_findings *f = found_at(&two, 30 * MIN);
	assert_true(probability(f, "roof unit") < 0.03);
	assert_true(probability(f, "door unit") > 0.3);
	scene_end(&two);
	scene_end(&one);
}

/* Slept with the seat's fuse out: it leads in the next session, too, and its
 * evidence says where from. */
static void test_proof_of_an_earlier_session_counts(void **state)
{
	(void)state;
	struct scene one, two;
	talk_on(&one, body, 20 * MIN);
	mark_at(&one, 20 * MIN, NOD_MARK_ISOLATED, "F2");
	found_at(&one, 40 * MIN);
	talk_on(&two, body, 30 * MIN);
	assert_int_equal(nod_engine_add_earlier(two.engine, one.found), 0);
	const struct nod_findings *f = found_at(&two, 30 * MIN);
	assert_string_equal(f->suspects[0].name, "seat unit");
	assert_true(f->suspects[0].probability > 0.9);
	assert_non_null(strstr(f->suspects[0].evidence[0].text, "In an earlier session:"));
	scene_end(&two);
	scene_end(&one);
}

/* A suspicion without a test is the same evidence over again: it counts less. */
static void test_mere_suspicion_is_no_proof(void **state)
{
	(void)state;
	struct scene one, two;
	scene_begin(&one, body);
	mark_at(&one, 0, NOD_MARK_STARTED, "");
	mark_at(&one, 0, NOD_MARK_LOCKED, "");
	PLAY(&one, {0, "100#00", 0, 2 * MIN, 100}, {0, "200#00", 10, 30 * MIN, 100});
	assert_true(probability(found_at(&one, 30 * MIN), "seat unit") > 0.9);
	talk_on(&two, body, 30 * MIN);
	assert_int_equal(nod_engine_add_earlier(two.engine, one.found), 0);
	double p = probability(found_at(&two, 30 * MIN), "seat unit");
	assert_true(p > 0.4 && p < 0.9);
	scene_end(&two);
	scene_end(&one);
}

static void test_sessions_are_bounded(void **state)
{
	(void)state;
	struct scene one, two;
	isolate_roof_in_vain(&one);
	scene_begin(&two, body);
	for (int i = 0; i < NOD_EARLIER_MAX; i++)
		assert_int_equal(nod_engine_add_earlier(two.engine, one.found), 0);
	assert_true(nod_engine_add_earlier(two.engine, one.found) < 0);
	scene_end(&two);
	scene_end(&one);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_what_one_session_excludes_stays_excluded),
		cmocka_unit_test(test_a_file_in_another_order_is_the_same_car),
		cmocka_unit_test(test_proof_of_an_earlier_session_counts),
		cmocka_unit_test(test_mere_suspicion_is_no_proof),
		cmocka_unit_test(test_sessions_are_bounded),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
