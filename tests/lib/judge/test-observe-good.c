/* SPDX-License-Identifier: MIT */
#include "scene.h"

#define MIN (60 * 1000)

static const char body[] = "networks:\n"
			   "  body: { interfaces: [can0], sleeps within: 10 min, quiet time: 3 s, "
			   "management: { scheme: none } }\n"
			   "modules:\n"
			   "  roof unit: { ids: [100, 101] }\n"
			   "  seat unit: { ids: [200] }\n"
			   "  door unit: { ids: [300] }\n";

static const struct nod_findings *healthy(struct scene *s)
{
	scene_begin(s, body);
	mark_at(s, 0, NOD_MARK_LOCKED, "");
	PLAY(s, {0, "100#0000", 0, 2 * MIN, 100}, {0, "200#40", 10, 2 * MIN, 200},
	     {0, "300#0102", 20, 2 * MIN, 1000});
	return found_at(s, 30 * MIN);
}

/* Another recording of the car, judged by the good one. */
static void begin_against(struct scene *s, const struct scene *good)
{
	scene_begin(s, body);
	nod_engine_set_good(s->engine, good->found);
	mark_at(s, 0, NOD_MARK_LOCKED, "");
}

/* All talk on, but one bit of the door unit stands otherwise: a stuck input. */
static void test_a_stuck_bit_stands_out_against_a_good_recording(void **state)
{
	(void)state;
	struct scene good, s;
	healthy(&good);
	begin_against(&s, &good);
	PLAY(&s, {0, "100#0000", 0, 30 * MIN, 100}, {0, "200#40", 10, 30 * MIN, 200},
	     {0, "300#0106", 20, 30 * MIN, 1000});
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_int_equal(f->difference_count, 1);
	assert_int_equal(f->idents[f->differences[0].ident].id, 0x300);
	assert_int_equal(f->differences[0].bits, 1 << (8 + 2));
	assert_string_equal(f->suspects[0].name, "door unit");
	assert_non_null(strstr(evidence(f, "door unit", NOD_EV_GOOD_DIFFERS),
			       "300 byte 1 bit 2 stays 1 here and 0 in the good recording"));
	scene_end(&s);
	scene_end(&good);
}

static void test_a_period_that_did_not_slow_is_a_difference(void **state)
{
	(void)state;
	struct scene good, s;
	healthy(&good);
	begin_against(&s, &good);
	PLAY(&s, {0, "100#0000", 0, 30 * MIN, 100}, {0, "200#40", 10, 30 * MIN, 200},
	     {0, "300#0102", 20, 30 * MIN, 200});
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_int_equal(f->difference_count, 1);
	assert_true(f->differences[0].period);
	assert_int_equal(f->differences[0].period_good.ns, 1000 * NOD_NS_PER_MS);
	assert_int_equal(f->differences[0].period_here.ns, 200 * NOD_NS_PER_MS);
	scene_end(&s);
	scene_end(&good);
}

static void test_a_message_that_is_new_is_a_difference(void **state)
{
	(void)state;
	struct scene good, s;
	healthy(&good);
	begin_against(&s, &good);
	PLAY(&s, {0, "100#0000", 0, 30 * MIN, 100}, {0, "200#40", 10, 30 * MIN, 200},
	     {0, "300#0102", 20, 30 * MIN, 1000}, {0, "101#00", 30, 30 * MIN, 500});
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_int_equal(f->difference_count, 1);
	assert_true(f->differences[0].appeared);
	assert_string_equal(f->suspects[0].name, "roof unit");
	assert_non_null(strstr(evidence(f, "roof unit", NOD_EV_GOOD_DIFFERS), "does not exist"));
	scene_end(&s);
	scene_end(&good);
}

/* Counters differ between any two recordings. */
static void test_what_moves_is_no_difference(void **state)
{
	(void)state;
	struct scene good, s;
	char text[16];

	scene_begin(&good, body);
	mark_at(&good, 0, NOD_MARK_LOCKED, "");
	for (int i = 0; i < 500; i++) {
		snprintf(text, sizeof(text), "100#0%X00", i & 0xF);
		frame_at(&good, i * 100, 0, text);
	}
	found_at(&good, 30 * MIN);
	begin_against(&s, &good);
	for (int i = 0; i < 9000; i++) {
		snprintf(text, sizeof(text), "100#0%X00", (i + 5) & 0xF);
		frame_at(&s, i * 100, 0, text);
	}
	assert_int_equal(found_at(&s, 15 * MIN)->difference_count, 0);
	scene_end(&s);
	scene_end(&good);
}

/* The others slowed down for parking, the seat unit did not. */
static void test_who_keeps_its_pace_among_slower_ones_stands_out(void **state)
{
	(void)state;
	struct scene good, s;
	healthy(&good);
	begin_against(&s, &good);
	PLAY(&s, {0, "100#0000", 0, 30 * MIN, 400}, {0, "200#40", 10, 30 * MIN, 200},
	     {0, "300#0102", 20, 30 * MIN, 3000});
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_int_equal(f->difference_count, 0);
	assert_string_equal(f->suspects[0].name, "seat unit");
	assert_non_null(strstr(evidence(f, "seat unit", NOD_EV_UNUSUAL_PERIOD),
			       "while 2 of 3 senders on body are slower here"));
	assert_null(evidence(f, "roof unit", NOD_EV_UNUSUAL_PERIOD));
	scene_end(&s);
	scene_end(&good);
}

static double weight(const struct nod_findings *f, const char *name, enum nod_evidence kind)
{
	const struct nod_suspect *one = suspect(f, name);

	for (size_t i = 0; one && i < one->evidence_count; i++)
		if (one->evidence[i].kind == kind)
			return one->evidence[i].weight;
	return 0;
}

/* The roof unit, `others` unknown ones and the door unit slow down, the seat unit and perhaps
 * another do not: what that weighs. */
static double pace_weight(const char *another)
{
	struct scene good, s;

	scene_begin(&good, body);
	mark_at(&good, 0, NOD_MARK_LOCKED, "");
	PLAY(&good, {0, "100#0000", 0, 2 * MIN, 100}, {0, "200#40", 10, 2 * MIN, 200},
	     {0, "300#0102", 20, 2 * MIN, 1000}, {0, "400#00", 30, 2 * MIN, 100},
	     {0, another, 40, 2 * MIN, 200});
	found_at(&good, 30 * MIN);
	begin_against(&s, &good);
	PLAY(&s, {0, "100#0000", 0, 30 * MIN, 400}, {0, "200#40", 10, 30 * MIN, 200},
	     {0, "300#0102", 20, 30 * MIN, 3000}, {0, "400#00", 30, 30 * MIN, 400},
	     {0, another, 40, 30 * MIN, 200});
	double w = weight(found_at(&s, 30 * MIN), "seat unit", NOD_EV_UNUSUAL_PERIOD);
	scene_end(&s);
	scene_end(&good);
	return w;
}

/* One of the roof unit's keeps its pace beside one that does not: it is no other then. */
static void test_two_that_keep_their_pace_stand_out_less(void **state)
{
	double alone = pace_weight("101#00"), with_another = pace_weight("500#00");

	(void)state;
	assert_true(with_another > 0);
	assert_true(alone > 1.5 * with_another);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_a_stuck_bit_stands_out_against_a_good_recording),
		cmocka_unit_test(test_a_period_that_did_not_slow_is_a_difference),
		cmocka_unit_test(test_a_message_that_is_new_is_a_difference),
		cmocka_unit_test(test_what_moves_is_no_difference),
		cmocka_unit_test(test_who_keeps_its_pace_among_slower_ones_stands_out),
		cmocka_unit_test(test_two_that_keep_their_pace_stand_out_less),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
