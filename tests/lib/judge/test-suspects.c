/* SPDX-License-Identifier: MIT */
/* The list of suspects: who is on it, in which order, and who is proved. */
#include "scene.h"

#include <math.h>

#define MIN (60 * 1000)

static const char map[] =
	"networks:\n"
	"  body: { interfaces: [can0], bitrate: 500000, sleeps within: 10 min, quiet time: 3 s, "
	"management: { scheme: none } }\n"
	"modules:\n"
	"  roof unit: { ids: [100], fuses: [F1, F3] }\n"
	"  seat unit: { ids: [200, 201], fuses: [F2] }\n"
	"  door unit: { ids: [300], fuses: [F2] }\n"
	"fuses:\n"
	"  F1: { rating: 10 A }\n"
	"  F2: { rating: 15 A }\n"
	"  F3: { rating: 5 A }\n";

static void begin(struct scene *s)
{
	scene_begin(s, map);
	mark_at(s, 0, NOD_MARK_LOCKED, "");
}

static void test_the_list_is_in_order_and_adds_up(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "100#00", 0, 20 * MIN, 100}, {0, "200#00", 10, 5 * MIN, 100},
	     {0, "201#00", 15, 5 * MIN, 100}, {0, "300#00", 20, 5 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 20 * MIN - 100);
	double sum = 0;
	for (size_t i = 0; i < f->suspect_count; i++) {
		const struct nod_suspect *one = &f->suspects[i];
		sum += one->probability;
		assert_true(one->probability >= 0 && one->probability <= 0.985);
		assert_true(!i || one->probability <= f->suspects[i - 1].probability);
		for (size_t k = 1; k < one->evidence_count; k++)
			assert_true(fabs(one->evidence[k].weight) <=
				    fabs(one->evidence[k - 1].weight));
	}
	assert_true(sum > 0.9);
	assert_string_equal(f->suspects[0].name, "roof unit");
	assert_int_equal(f->suspects[0].role, NOD_ROLE_HOLDER);
	assert_non_null(evidence(f, "roof unit", NOD_EV_ALONE));
	assert_true(probability(f, "seat unit") < 0.01);
	scene_end(&s);
}

static void test_a_module_is_one_suspect_with_its_fuses(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "100#00", 0, 20 * MIN, 100}, {0, "200#00", 10, 20 * MIN, 100},
	     {0, "201#00", 15, 20 * MIN, 500});
	const struct nod_findings *f = found_at(&s, 20 * MIN - 100);
	size_t seats = 0;
	for (size_t i = 0; i < f->suspect_count; i++)
		seats += !strcmp(f->suspects[i].name, "seat unit");
	assert_int_equal(seats, 1);
	const struct nod_suspect *roof = suspect(f, "roof unit");
	assert_true(roof->in_map);
	assert_int_equal(roof->fuse_count, 2);
	assert_string_equal(f->vehicle->fuses[roof->fuses[1]].name, "F3");
	scene_end(&s);
}

static void test_an_unknown_message_is_a_suspect_without_a_fuse(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "4A0#00", 0, 20 * MIN, 100}, {0, "200#00", 10, 3 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 20 * MIN - 100);
	assert_false(f->suspects[0].in_map);
	assert_int_equal(f->suspects[0].fuse_count, 0);
	assert_non_null(strstr(f->suspects[0].name, "4A0"));
	scene_end(&s);
}

static void test_what_sleeps_has_nothing_wrong(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "100#00", 0, 5 * MIN, 100}, {0, "200#00", 0, 4 * MIN, 100},
	     {0, "300#00", 0, 3 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_int_equal(f->suspect_count, 1);
	assert_int_equal(f->suspects[0].kind, NOD_SUSPECT_NOTHING);
	assert_int_equal(f->suspects[0].sender, NOD_NONE);
	scene_end(&s);
}

/* One that was not heard may be awake. */
static void test_a_network_that_is_not_heard_leaves_a_doubt(void **state)
{
	(void)state;
	static const char two[] = "networks:\n"
				  "  body: { interfaces: [can0], sleeps within: 10 min }\n"
				  "  drive: { interfaces: [can1], sleeps within: 10 min }\n";
	struct scene both, one;

	scene_begin(&both, two);
	mark_at(&both, 0, NOD_MARK_LOCKED, "");
	PLAY(&both, {0, "100#00", 0, 5 * MIN, 100}, {1, "200#00", 0, 5 * MIN, 100});
	scene_begin(&one, two);
	mark_at(&one, 0, NOD_MARK_LOCKED, "");
	PLAY(&one, {0, "100#00", 0, 5 * MIN, 100});
	const struct nod_suspect *sure = found_at(&both, 30 * MIN)->suspects;
	const struct nod_suspect *doubt = found_at(&one, 30 * MIN)->suspects;
	assert_int_equal(sure->kind, NOD_SUSPECT_NOTHING);
	assert_int_equal(doubt->kind, NOD_SUSPECT_NOTHING);
	assert_true(sure->probability > 0.9);
	assert_true(doubt->probability < 0.8);
	scene_end(&both);
	scene_end(&one);
}

/* What hangs on one fuse is proved together: no one of several likely ones is. */
static void isolate(struct scene *s, const char *subject, int64_t seat_until)
{
	begin(s);
	PLAY(s, {0, "200#00", 10, seat_until, 100}, {0, "300#00", 20, 20 * MIN, 100});
	mark_at(s, 20 * MIN, NOD_MARK_ISOLATED, subject);
	found_at(s, 60 * MIN);
	assert_int_equal(s->found->isolations[0].result, NOD_ISOLATION_PROVED);
}

static void test_one_likely_module_on_the_fuse_is_proved(void **state)
{
	(void)state;
	struct scene s;
	isolate(&s, "F2", 5 * MIN);
	assert_true(suspect(s.found, "door unit")->proved);
	assert_false(suspect(s.found, "seat unit") && suspect(s.found, "seat unit")->proved);
	scene_end(&s);
}

static void test_of_two_likely_modules_on_the_fuse_none_is_proved(void **state)
{
	(void)state;
	struct scene s;
	isolate(&s, "F2", 20 * MIN);
	assert_false(suspect(s.found, "door unit")->proved);
	assert_false(suspect(s.found, "seat unit")->proved);
	scene_end(&s);
}

/* Evidence of an isolation says which one it is; other evidence has words of its own. */
static void test_evidence_knows_its_isolation(void **state)
{
	(void)state;
	struct scene s;
	isolate(&s, "F2", 5 * MIN);
	const struct nod_suspect *door = suspect(s.found, "door unit");
	size_t found = 0;
	for (size_t k = 0; k < door->evidence_count; k++) {
		const struct nod_evidence_finding *e = &door->evidence[k];
		assert_int_equal(e->isolation, e->kind == NOD_EV_ISOLATED_SLEPT ? 0 : NOD_NONE);
		found += e->kind == NOD_EV_ISOLATED_SLEPT;
	}
	assert_int_equal(found, 1);
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_the_list_is_in_order_and_adds_up),
		cmocka_unit_test(test_a_module_is_one_suspect_with_its_fuses),
		cmocka_unit_test(test_an_unknown_message_is_a_suspect_without_a_fuse),
		cmocka_unit_test(test_what_sleeps_has_nothing_wrong),
		cmocka_unit_test(test_a_network_that_is_not_heard_leaves_a_doubt),
		cmocka_unit_test(test_one_likely_module_on_the_fuse_is_proved),
		cmocka_unit_test(test_of_two_likely_modules_on_the_fuse_none_is_proved),
		cmocka_unit_test(test_evidence_knows_its_isolation),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
