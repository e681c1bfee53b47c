/* SPDX-License-Identifier: MIT */
/* What isolations say for and against a suspect. */
#include "scene.h"

#define MIN (60 * 1000)

static const char map[] =
	"networks:\n"
	"  body: { interfaces: [can0], bitrate: 500000, sleeps within: 10 min, quiet time: 3 s, "
	"management: { scheme: none } }\n"
	"modules:\n"
	"  roof unit: { ids: [100], fuses: [F1] }\n"
	"  seat unit: { ids: [200], fuses: [F2] }\n"
	"fuses:\n"
	"  F1: { rating: 10 A }\n"
	"  F2: { rating: 15 A }\n"
	"  F9: { rating: 5 A }\n";

/* Both talk until 20 min, when something is taken out. */
static void begin(struct scene *s, const char *subject)
{
	scene_begin(s, map);
	mark_at(s, 0, NOD_MARK_LOCKED, "");
	PLAY(s, {0, "100#00", 0, 20 * MIN, 100}, {0, "200#00", 10, 20 * MIN, 100});
	mark_at(s, 20 * MIN, NOD_MARK_ISOLATED, subject);
}

static void test_asleep_without_it_speaks_for_it(void **state)
{
	(void)state;
	struct scene s;
	begin(&s, "F2");
	PLAY(&s, {0, "100#00", 20 * MIN, 20 * MIN + 20000, 100});
	const struct nod_findings *f = found_at(&s, 40 * MIN);
	assert_non_null(evidence(f, "seat unit", NOD_EV_ISOLATED_SLEPT));
	assert_null(evidence(f, "roof unit", NOD_EV_ISOLATED_SLEPT));
	assert_string_equal(f->suspects[0].name, "seat unit");
	scene_end(&s);
}

static void test_awake_without_it_speaks_against_it(void **state)
{
	(void)state;
	struct scene s;
	begin(&s, "F2");
	PLAY(&s, {0, "100#00", 20 * MIN, 40 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 40 * MIN - 100);
	assert_null(evidence(f, "seat unit", NOD_EV_ISOLATED_SLEPT));
	assert_true(probability(f, "seat unit") < 0.05);
	assert_true(probability(f, "roof unit") > 0.8);
	scene_end(&s);
}

static void test_asleep_again_with_it_in_place_clears_it(void **state)
{
	(void)state;
	struct scene once, again;
	begin(&once, "F2");
	PLAY(&once, {0, "100#00", 20 * MIN, 20 * MIN + 20000, 100});
	double before = probability(found_at(&once, 35 * MIN), "seat unit");
	begin(&again, "F2");
	PLAY(&again, {0, "100#00", 20 * MIN, 20 * MIN + 20000, 100});
	mark_at(&again, 30 * MIN, NOD_MARK_REFITTED, "F2");
	PLAY(&again, {0, "200#00", 30 * MIN, 31 * MIN, 100},
	     {0, "100#00", 30 * MIN + 400, 31 * MIN + 3000, 100});
	const struct nod_findings *f = found_at(&again, 60 * MIN);
	assert_int_equal(f->isolations[0].refit, NOD_REFIT_SLEPT);
	assert_non_null(evidence(f, "seat unit", NOD_EV_REFIT_SLEPT));
	assert_null(evidence(f, "seat unit", NOD_EV_REFIT_WOKE));
	assert_true(probability(f, "seat unit") < before);
	scene_end(&once);
	scene_end(&again);
}

/* What sleeps with a fuse that carries no module of the map is something unknown. */
static void test_a_fuse_of_nobody_speaks_for_what_is_unseen(void **state)
{
	(void)state;
	struct scene s;
	begin(&s, "F9");
	PLAY(&s, {0, "100#00", 20 * MIN, 20 * MIN + 20000, 100},
	     {0, "200#00", 20 * MIN + 10, 20 * MIN + 21000, 100});
	const struct nod_findings *f = found_at(&s, 40 * MIN);
	const struct nod_suspect *unseen = NULL;
	for (size_t i = 0; i < f->suspect_count; i++)
		unseen = f->suspects[i].kind == NOD_SUSPECT_UNSEEN ? &f->suspects[i] : unseen;
	assert_non_null(unseen);
	assert_non_null(evidence(f, unseen->name, NOD_EV_ISOLATED_SLEPT));
	assert_null(evidence(f, "seat unit", NOD_EV_ISOLATED_SLEPT));
	scene_end(&s);
}

/* Two hang on one fuse; without the plug of one of them it sleeps as well: with the other in
 * place. */
static void test_the_plug_tells_which_of_a_fuse_it_is(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, "networks:\n"
			"  body: { interfaces: [can0], bitrate: 500000, sleeps within: 5 min, "
			"quiet time: 3 s, management: { scheme: none } }\n"
			"modules:\n"
			"  roof unit: { ids: [100], fuses: [F1] }\n"
			"  seat unit: { ids: [200], fuses: [F1] }\n"
			"  door unit: { ids: [300], fuses: [F2] }\n"
			"fuses:\n"
			"  F1: { rating: 10 A }\n"
			"  F2: { rating: 15 A }\n");
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, 20 * MIN, 100}, {0, "200#00", 10, 20 * MIN, 100},
	     {0, "300#00", 20, 20 * MIN + 3000, 100});
	mark_at(&s, 20 * MIN, NOD_MARK_ISOLATED, "F1");
	mark_at(&s, 26 * MIN, NOD_MARK_REFITTED, "F1");
	PLAY(&s, {0, "100#00", 26 * MIN, 46 * MIN, 100},
	     {0, "200#00", 26 * MIN + 10, 46 * MIN + 3000, 100},
	     {0, "300#00", 26 * MIN + 20, 46 * MIN + 3000, 100});
	mark_at(&s, 46 * MIN, NOD_MARK_ISOLATED, "roof unit");
	const struct nod_findings *f = found_at(&s, 60 * MIN);
	assert_true(probability(f, "roof unit") > 0.9);
	assert_true(probability(f, "seat unit") < 0.1);
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_asleep_without_it_speaks_for_it),
		cmocka_unit_test(test_awake_without_it_speaks_against_it),
		cmocka_unit_test(test_asleep_again_with_it_in_place_clears_it),
		cmocka_unit_test(test_the_plug_tells_which_of_a_fuse_it_is),
		cmocka_unit_test(test_a_fuse_of_nobody_speaks_for_what_is_unseen),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
