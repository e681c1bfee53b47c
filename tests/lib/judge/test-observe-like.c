/* SPDX-License-Identifier: MIT */
#include "scene.h"

#include "known.h"

#define MIN (60 * 1000)

static const char body[] = "networks:\n"
			   "  body: { interfaces: [can0], sleeps within: 10 min, quiet time: 3 s, "
			   "management: { scheme: none } }\n"
			   "modules:\n"
			   "  roof unit: { ids: [100], fuses: [F1] }\n"
			   "  seat unit: { ids: [200], fuses: [F2] }\n"
			   "  door unit: { ids: [300] }\n"
			   "  lid unit: { ids: [400] }\n"
			   "fuses:\n"
			   "  F1: { family: mini, rating: 10 A, resistance: 10 mOhm }\n"
			   "  F2: { family: mini, rating: 10 A, resistance: 10 mOhm }\n";

/* Nothing tells them apart. */
static void all_talk(struct scene *s)
{
	scene_begin(s, body);
	mark_at(s, 0, NOD_MARK_STARTED, "");
	mark_at(s, 0, NOD_MARK_LOCKED, "");
	PLAY(s, {0, "100#00", 0, 30 * MIN, 100}, {0, "200#00", 10, 30 * MIN, 100},
	     {0, "300#00", 20, 30 * MIN, 100}, {0, "400#00", 30, 30 * MIN, 100});
}

/* The seat unit is alone from the second minute on. */
static void one_talks(struct scene *s)
{
	scene_begin(s, body);
	mark_at(s, 0, NOD_MARK_STARTED, "");
	mark_at(s, 0, NOD_MARK_LOCKED, "");
	PLAY(s, {0, "100#00", 0, 2 * MIN, 100}, {0, "200#00", 10, 30 * MIN, 100},
	     {0, "300#00", 20, 2 * MIN, 100}, {0, "400#00", 30, 2 * MIN, 100});
}

static double weight(const struct nod_findings *f, const char *name)
{
	const struct nod_suspect *s = suspect(f, name);

	for (size_t i = 0; s && i < s->evidence_count; i++)
		if (s->evidence[i].kind == NOD_EV_LIKE_CARS)
			return s->evidence[i].weight;
	return -1;
}

static void test_who_it_was_comes_first_but_is_not_named(void **state)
{
	(void)state;
	const struct nod_known_sender was = {"door unit", 900};
	const struct nod_known known = {.solved = 900, .senders = &was, .sender_count = 1};
	struct scene s;
	all_talk(&s);
	double before = probability(found_at(&s, 30 * MIN), "door unit");
	nod_engine_set_known(s.engine, &known);
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_string_equal(f->suspects[0].name, "door unit");
	assert_true(probability(f, "door unit") > before);
	assert_true(probability(f, "door unit") < 0.5);
	assert_int_equal(f->culprit, NOD_NONE);
	assert_string_equal(
		evidence(f, "door unit", NOD_EV_LIKE_CARS),
		"In 900 of 900 cars with these messages that were solved it was this one.");
	assert_ptr_equal(f->known, &known);
	nod_engine_set_known(s.engine, NULL);
	assert_true(probability(found_at(&s, 30 * MIN), "door unit") == before);
	scene_end(&s);
}

static void test_more_cars_say_more(void **state)
{
	(void)state;
	struct nod_known_sender was[] = {{"door unit", 3}, {"lid unit", 1}};
	struct nod_known known = {.solved = 4, .senders = was, .sender_count = 2};
	struct scene s;
	all_talk(&s);
	nod_engine_set_known(s.engine, &known);
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_true(weight(f, "door unit") > 0);
	assert_true(weight(f, "lid unit") == 0); /* one of four senders in one of four cars */
	assert_true(weight(f, "roof unit") == -1);
	double few = weight(f, "door unit");
	was[0].cars = 30;
	known.solved = 40;
	assert_true(weight(found_at(&s, 30 * MIN), "door unit") > few);
	assert_true(weight(s.found, "door unit") <= nod_evidence_rule(NOD_EV_LIKE_CARS)->strength);
	scene_end(&s);
}

/* Against the bus it says nothing: who is named stays named, nearly as sure. */
static void test_never_against_the_bus(void **state)
{
	(void)state;
	const struct nod_known_sender was = {"door unit", 900};
	const struct nod_known known = {.solved = 900, .senders = &was, .sender_count = 1};
	struct scene s;
	one_talks(&s);
	double before = probability(found_at(&s, 30 * MIN), "seat unit");
	assert_true(before > 0.9);
	nod_engine_set_known(s.engine, &known);
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_string_equal(f->suspects[f->culprit].name, "seat unit");
	assert_true(probability(f, "seat unit") > before - 0.02);
	scene_end(&s);
}

/* Of the fuses that were measured only the seat unit's carries current: not enough to name it, but it stays first. */
static void test_the_clearly_likelier_stays_first(void **state)
{
	(void)state;
	const struct nod_known_sender was = {"door unit", 900};
	const struct nod_known known = {.solved = 900, .senders = &was, .sender_count = 1};
	struct scene s;
	all_talk(&s);
	mark_at(&s, 30 * MIN, NOD_MARK_READING, "F1 0.00 mV");
	mark_at(&s, 30 * MIN, NOD_MARK_READING, "F1 0.00 mV");
	mark_at(&s, 30 * MIN, NOD_MARK_READING, "F2 2.00 mV");
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	double before = probability(f, "door unit");
	assert_string_equal(f->suspects[0].name, "seat unit");
	assert_true(f->suspects[0].probability > 2 * before);
	assert_true(f->suspects[0].probability < 0.5);
	nod_engine_set_known(s.engine, &known);
	f = found_at(&s, 30 * MIN);
	assert_string_equal(f->suspects[0].name, "seat unit");
	assert_true(probability(f, "door unit") > before);
	assert_true(weight(f, "door unit") < 1);
	scene_end(&s);
}

static void test_of_nobody_who_is_here(void **state)
{
	(void)state;
	const struct nod_known_sender was = {"trailer unit", 9};
	const struct nod_known known = {.solved = 9, .senders = &was, .sender_count = 1};
	struct scene s;
	all_talk(&s);
	double before = probability(found_at(&s, 30 * MIN), "door unit");
	nod_engine_set_known(s.engine, &known);
	assert_true(probability(found_at(&s, 30 * MIN), "door unit") == before);
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_who_it_was_comes_first_but_is_not_named),
		cmocka_unit_test(test_more_cars_say_more),
		cmocka_unit_test(test_never_against_the_bus),
		cmocka_unit_test(test_the_clearly_likelier_stays_first),
		cmocka_unit_test(test_of_nobody_who_is_here),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
