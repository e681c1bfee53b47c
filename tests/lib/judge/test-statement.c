/* SPDX-License-Identifier: MIT */
/* What is said of a finding, each once: by kind, not by wording. */
#include "scene.h"

#define MIN (60 * 1000)

static const char map[] =
	"networks:\n"
	"  body: { interfaces: [can0], bitrate: 500000, sleeps within: 10 min, quiet time: 3 s, "
	"management: { scheme: none } }\n"
	"modules:\n"
	"  roof unit: { ids: [100], fuses: [F1] }\n"
	"  seat unit: { ids: [200], fuses: [F2] }\n"
	"  door unit: { ids: [300], fuses: [F2] }\n"
	"fuses:\n"
	"  F1: { rating: 10 A }\n"
	"  F2: { rating: 15 A }\n";

static size_t facts(const struct nod_findings *f, enum nod_fact kind)
{
	size_t count = 0;

	for (size_t i = 0; i < f->fact_count; i++)
		count += f->facts_about[i].kind == (int)kind;
	return count;
}

/* The text of the only doubt of this kind; NULL: there is none. */
static const char *doubt(const struct nod_findings *f, enum nod_doubt kind, int of)
{
	const char *text = NULL;

	for (size_t i = 0; i < f->doubt_count; i++)
		if (f->doubts_about[i].kind == (int)kind && f->doubts_about[i].of == of) {
			assert_null(text);
			text = f->doubts[i];
		}
	return text;
}

static void assert_nothing_twice(const struct nod_findings *f)
{
	for (size_t i = 0; i < f->fact_count; i++) {
		assert_true(*f->facts[i]);
		assert_null(strstr(f->sentence, f->facts[i]));
		for (size_t k = 0; k < i; k++)
			assert_null(strstr(f->facts[k], f->facts[i]));
	}
	for (size_t i = 0; i < f->doubt_count; i++)
		for (size_t k = 0; k < i; k++)
			assert_string_not_equal(f->doubts[k], f->doubts[i]);
}

/* Of each that is spoken of, what speaks for it; nothing that speaks against it. */
static void test_evidence_of_both_is_said(void **state)
{
	(void)state;
	struct scene s;
	bool said[2] = {false, false};
	scene_begin(&s, map);
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, 2 * MIN, 100}, {0, "200#00", 10, 20 * MIN, 100},
	     {0, "300#00", 20, 20 * MIN, 100});
	mark_at(&s, 20 * MIN, NOD_MARK_ISOLATED, "F1"); /* changes nothing */
	PLAY(&s, {0, "200#00", 20 * MIN + 10, 40 * MIN, 100},
	     {0, "300#00", 20 * MIN + 20, 40 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 40 * MIN - 100);
	assert_true(f->suspect_count > 1 && f->suspects[1].probability > 0.2);
	for (size_t i = 0; i < f->fact_count; i++)
		if (f->facts_about[i].kind == NOD_FACT_EVIDENCE) {
			const struct nod_about *about = &f->facts_about[i];
			assert_in_range(about->of, 0, 1);
			said[about->of] = true;
			assert_true(f->suspects[about->of].evidence[about->part].weight > 0);
		}
	assert_true(said[0] && said[1]);
	scene_end(&s);
}

/* A single unit, and nobody said when it was locked: whether that is doubted as a bench. */
static bool is_called_a_bench(int64_t until, enum nod_verdict verdict)
{
	bool doubted = false;
	struct scene s;

	scene_begin(&s, map);
	PLAY(&s, {0, "100#00", 0, until, 100});
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_int_equal(f->lock_source, NOD_LOCK_FROM_START);
	assert_int_equal(f->verdict, verdict);
	for (size_t i = 0; i < f->doubt_count; i++)
		doubted |= f->doubts_about[i].kind == NOD_DOUBT_BENCH;
	scene_end(&s);
	return doubted;
}

/* What goes on and on is one fault on a bench and in a car. */
static void test_only_what_is_open_is_called_a_bench(void **state)
{
	(void)state;
	assert_true(is_called_a_bench(2 * MIN, NOD_VERDICT_CANNOT_TELL));
	assert_false(is_called_a_bench(30 * MIN, NOD_VERDICT_KEPT_AWAKE));
}

/* Two modules hang on the fuse; both have the isolation as evidence, and both are spoken of. */
static void isolate_two(struct scene *s)
{
	scene_begin(s, map);
	mark_at(s, 0, NOD_MARK_LOCKED, "");
	PLAY(s, {0, "100#00", 0, 2 * MIN, 100}, {0, "200#00", 10, 20 * MIN, 100},
	     {0, "300#00", 20, 20 * MIN, 100});
	mark_at(s, 20 * MIN, NOD_MARK_ISOLATED, "F2");
}

static void test_an_isolation_of_two_suspects_is_said_once(void **state)
{
	(void)state;
	struct scene s;
	isolate_two(&s);
	const struct nod_findings *f = found_at(&s, 40 * MIN);
	assert_non_null(evidence(f, "seat unit", NOD_EV_ISOLATED_SLEPT));
	assert_non_null(evidence(f, "door unit", NOD_EV_ISOLATED_SLEPT));
	assert_true(probability(f, "seat unit") >= 0.2 && probability(f, "door unit") >= 0.2);
	assert_int_equal(facts(f, NOD_FACT_ISOLATION), 1);
	assert_nothing_twice(f);
	scene_end(&s);
}

/* Isolated and refitted are two kinds of evidence with one story. */
static void test_both_ways_are_one_fact(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, map);
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, 2 * MIN, 100}, {0, "200#00", 10, 20 * MIN, 100});
	mark_at(&s, 20 * MIN, NOD_MARK_ISOLATED, "seat unit");
	mark_at(&s, 30 * MIN, NOD_MARK_REFITTED, "seat unit");
	PLAY(&s, {0, "200#00", 30 * MIN, 45 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 45 * MIN - 100);
	assert_non_null(evidence(f, "seat unit", NOD_EV_ISOLATED_SLEPT));
	assert_non_null(evidence(f, "seat unit", NOD_EV_REFIT_WOKE));
	assert_int_equal(facts(f, NOD_FACT_ISOLATION), 1);
	assert_nothing_twice(f);
	scene_end(&s);
}

static void test_the_reason_in_the_sentence_is_no_fact(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, map);
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, 2 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 2 * MIN - 100);
	assert_int_equal(f->verdict, NOD_VERDICT_CANNOT_TELL);
	assert_non_null(strstr(f->sentence, f->networks[0].reason));
	assert_int_equal(facts(f, NOD_FACT_NETWORK), 0);
	scene_end(&s);
}

static void test_the_reason_of_a_verdict_is_a_fact(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, map);
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, 2 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 60 * MIN);
	assert_int_equal(f->verdict, NOD_VERDICT_SLEEPS);
	assert_int_equal(facts(f, NOD_FACT_NETWORK), 1);
	assert_string_equal(f->facts[f->fact_count - 1], f->networks[0].reason);
	assert_null(doubt(f, NOD_DOUBT_SHORT, 0));
	assert_int_equal(f->caution_count, 0);
	scene_end(&s);
}

static void test_of_several_suspects_each_is_named(void **state)
{
	(void)state;
	struct scene s;
	isolate_two(&s);
	const struct nod_findings *f = found_at(&s, 40 * MIN);
	for (size_t i = 0; i < f->fact_count; i++)
		if (f->facts_about[i].kind == NOD_FACT_ISOLATION) {
			const char *name = f->suspects[f->facts_about[i].part].name;
			assert_ptr_equal(strstr(f->facts[i], name), f->facts[i]);
			assert_non_null(strstr(f->facts[i], f->isolations[0].text));
		}
	assert_int_equal(f->caution_count, 2);
	scene_end(&s);
}

/* One alone suspected: its name stands in the sentence. */
static void test_evidence_of_one_is_said_as_it_stands(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, map);
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, 20 * MIN, 100}, {0, "200#00", 10, 5 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 20 * MIN - 100);
	assert_non_null(strstr(f->sentence, "roof unit"));
	assert_true(facts(f, NOD_FACT_EVIDENCE) > 0);
	for (size_t i = 0; i < f->fact_count; i++)
		if (f->facts_about[i].kind == NOD_FACT_EVIDENCE) {
			const struct nod_about *about = &f->facts_about[i];
			assert_int_equal(about->of, 0);
			assert_string_equal(f->facts[i], f->suspects[0].evidence[about->part].text);
			assert_true(f->suspects[0].evidence[about->part].weight > 0);
		}
	scene_end(&s);
}

static void test_doubts_name_what_they_are_of(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, NULL);
	PLAY(&s, {0, "100#00", 0, 2 * MIN, 100}, {1, "200#00", 0, 2 * MIN, 100});
	loss_at(&s, 2 * MIN, 1);
	const struct nod_findings *f = found_at(&s, 3 * MIN);
	assert_non_null(strstr(doubt(f, NOD_DOUBT_LOST, 1), "7 frames of can1"));
	assert_null(doubt(f, NOD_DOUBT_LOST, 0));
	assert_non_null(strstr(doubt(f, NOD_DOUBT_NO_LOCK, 0), "Nothing says"));
	assert_non_null(strstr(doubt(f, NOD_DOUBT_DEADLINE, 0), "40 min"));
	assert_null(doubt(f, NOD_DOUBT_GAPS, 0));
	assert_nothing_twice(f);
	scene_end(&s);
}

static void test_the_map_that_is_not_this_cars_is_doubted(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, map);
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, 2 * MIN, 100}, {2, "200#00", 0, 2 * MIN, 100});
	mark_at(&s, 3 * MIN, NOD_MARK_ISOLATED, "F3");
	const struct nod_findings *f = found_at(&s, 5 * MIN);
	assert_non_null(strstr(doubt(f, NOD_DOUBT_MAP_NETWORKS, 0), "can2"));
	assert_non_null(strstr(doubt(f, NOD_DOUBT_MAP_MARKS, 0), "F3"));
	scene_end(&s);
}

static void test_more_than_is_told_is_counted(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, map);
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, MIN, 100});
	for (int64_t t = 20; t < 90; t += 10)
		PLAY(&s, {0, "200#00", t * MIN, t * MIN + 5000, 100});
	const struct nod_findings *f = found_at(&s, 100 * MIN);
	assert_int_equal(f->wake_count, 7);
	assert_int_equal(facts(f, NOD_FACT_WAKE), 4);
	assert_int_equal(facts(f, NOD_FACT_MORE_WAKES), 1);
	for (size_t i = 0; i < f->fact_count; i++)
		if (f->facts_about[i].kind == NOD_FACT_MORE_WAKES)
			assert_string_equal(f->facts[i], "... and 3 more wake-ups.");
	scene_end(&s);
}

/* Who wakes one network does not keep another one awake, on which it was never heard. */
static void test_who_is_named_is_blamed_for_its_own_network(void **state)
{
	(void)state;
	static const char *const texts[] = {"18F00100#00", "18F00210#00", "18F00320#00",
					    "18F00430#00", "18F00540#00", "18F00650#00"};
	struct scene s;

	scene_begin(&s, NULL);
	nod_engine_set_lock(s.engine, (nod_time){1}, NOD_LOCK_FROM_OPTION);
	struct cyclic list[6 + 6];
	for (int i = 0; i < 6; i++) {
		list[i] = (struct cyclic){0, texts[i], 7 * i, 60 * MIN, 100};
		list[6 + i] = (struct cyclic){1, "18FEF121#00", (i * 8 + 3) * MIN,
					      (i * 8 + 3) * MIN + 20000, 100};
	}
	play(&s, list, 12);
	const struct nod_findings *f = found_at(&s, 60 * MIN);
	assert_int_equal(f->networks[0].verdict, NOD_VERDICT_KEPT_AWAKE);
	assert_int_equal(f->networks[1].verdict, NOD_VERDICT_WOKEN);
	assert_string_equal(f->suspects[f->culprit].name, "ID 18FEF121");
	assert_non_null(strstr(f->sentence, "can1"));
	assert_null(strstr(f->sentence, "keeps can0"));
	assert_non_null(strstr(f->sentence, "can0 stayed awake, where nothing of it was heard"));
	scene_end(&s);
}

static const char ring_map[] =
	"networks:\n"
	"  body: { interfaces: [can0], sleeps within: 10 min, quiet time: 3 s, "
	"management: { scheme: osek, ids: 500-53F } }\n"
	"modules:\n"
	"  roof unit: { ids: [100], node: 1 }\n"
	"  seat unit: { ids: [200], node: 2 }\n"
	"  door unit: { ids: [300], node: 3 }\n";

/* What is said of the ring on body; NULL: nothing. */
static const char *ring(const struct nod_findings *f)
{
	for (size_t i = 0; i < f->fact_count; i++)
		if (!strncmp(f->facts[i], "OSEK ring on body", 17))
			return f->facts[i];
	return NULL;
}

/* Destination, then the opcode: ring 02, sleep indication 10. */
static void test_who_is_named_holds_the_ring(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, ring_map);
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "501#0212000000000000", 0, 30 * MIN, 300},
	     {0, "502#0312000000000000", 100, 30 * MIN, 300},
	     {0, "503#0102000000000000", 200, 30 * MIN, 300}, {0, "100#00", 5, 30 * MIN, 1000});
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_string_equal(f->suspects[f->culprit].name, "door unit");
	assert_string_equal(ring(f), "OSEK ring on body: door unit (503) never gave the sleep "
				     "indication, which holds it awake; roof unit (501), seat unit "
				     "(502) did (ready to sleep).");
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_an_isolation_of_two_suspects_is_said_once),
		cmocka_unit_test(test_both_ways_are_one_fact),
		cmocka_unit_test(test_the_reason_in_the_sentence_is_no_fact),
		cmocka_unit_test(test_the_reason_of_a_verdict_is_a_fact),
		cmocka_unit_test(test_evidence_of_both_is_said),
		cmocka_unit_test(test_only_what_is_open_is_called_a_bench),
		cmocka_unit_test(test_of_several_suspects_each_is_named),
		cmocka_unit_test(test_evidence_of_one_is_said_as_it_stands),
		cmocka_unit_test(test_doubts_name_what_they_are_of),
		cmocka_unit_test(test_the_map_that_is_not_this_cars_is_doubted),
		cmocka_unit_test(test_who_is_named_is_blamed_for_its_own_network),
		cmocka_unit_test(test_who_is_named_holds_the_ring),
		cmocka_unit_test(test_more_than_is_told_is_counted),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
