/* SPDX-License-Identifier: MIT */
#include "scene.h"

#define MIN (60 * 1000)

static const char body[] = "networks:\n"
			   "  body: { interfaces: [can0], sleeps within: 10 min, quiet time: 3 s, "
			   "management: { scheme: none } }\n"
			   "modules:\n"
			   "  roof unit: { ids: [100, 101] }\n"
			   "  seat unit: { ids: [200, 201] }\n"
			   "  door unit: { ids: [300, 301] }\n"
			   "  boot unit: { ids: [400, 401] }\n"
			   "  lamp unit: { ids: [500, 501] }\n";

#define OTHERS(to) OTHERS_IN(0, to)
#define OTHERS_IN(from, to)                                                           \
	{0, "100#00", from, to, 100}, {0, "101#00", from + 3, to, 500},               \
		{0, "200#00", from + 10, to, 200}, {0, "201#00", from + 13, to, 500}, \
		{0, "400#00", from + 20, to, 200}, {0, "401#00", from + 23, to, 500}, \
		{0, "500#00", from + 30, to, 200},                                    \
	{                                                                             \
		0, "501#00", from + 33, to, 500                                       \
	}

static void begin(struct scene *s)
{
	scene_begin(s, body);
	mark_at(s, 0, NOD_MARK_LOCKED, "");
}

/* All talk on, and message 300 of the door unit changes now and then. */
static void play_contact(struct scene *s, const char *shut, const char *open)
{
	int64_t at = 0, next;

	for (int64_t i = 0; at < 30 * MIN; at = next, i++) {
		next = at + 1000 * (2 + 7919 * i % 23);
		next = next < 30 * MIN ? next : 30 * MIN;
		PLAY(s, OTHERS_IN(at, next), {0, i % 2 ? open : shut, at + 40, next, 1000},
		     {0, "301#00", at + 43, next, 500});
	}
}

/* All talk on; one bit of the door unit comes and goes. */
static void test_who_has_a_switch_that_moves_is_first(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	play_contact(&s, "300#0000", "300#0004");
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_string_equal(f->suspects[0].name, "door unit");
	assert_true(f->suspects[0].probability > 0.4);
	assert_non_null(
		strstr(evidence(f, "door unit", NOD_EV_PAYLOAD), "300 byte 1 bit 2 changed"));
	assert_non_null(strstr(evidence(f, "door unit", NOD_EV_PAYLOAD), "as a switch does"));
	assert_non_null(strstr(evidence(f, "door unit", NOD_EV_PAYLOAD), "(0 of 4 others show"));
	scene_end(&s);
}

static double weight(const struct nod_findings *f, const char *name, enum nod_evidence kind)
{
	const struct nod_suspect *s = suspect(f, name);
	double sum = 0;

	for (size_t i = 0; s && i < s->evidence_count; i++)
		sum += s->evidence[i].kind == kind ? s->evidence[i].weight : 0;
	return sum;
}

/* A message that comes only when its switch moves shows a switch, and comes on event: that is
 * one fact. */
static void test_a_switch_that_is_sent_when_it_moves_counts_once(void **state)
{
	(void)state;
	struct scene s;
	int64_t at = 0, next;
	begin(&s);
	for (int64_t i = 0; at < 30 * MIN; at = next, i++) {
		next = at + 1000 * (2 + 7919 * i % 23);
		next = next < 30 * MIN ? next : 30 * MIN;
		for (int k = 0; k < 2; k++) /* and once more, in case it was not heard */
			frame_at(&s, at + k, 0, i % 2 ? "301#04" : "301#00");
		PLAY(&s, OTHERS_IN(at, next), {0, "300#00", at + 43, next, 500});
	}
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_string_equal(f->suspects[0].name, "door unit");
	double data = weight(f, "door unit", NOD_EV_PAYLOAD);
	double events = weight(f, "door unit", NOD_EV_EVENTS);
	assert_true(data > 1 && events >= 0 && events < 1);
	scene_end(&s);
}

/* The same bit, called by the vehicle file. */
static void play_named(struct scene *s, const char *signal)
{
	char map[1200];

	snprintf(map, sizeof(map), "%smessages:\n  Door: { id: 300, length: 2, signals: { %s } }\n",
		 body, signal);
	scene_begin(s, map);
	mark_at(s, 0, NOD_MARK_LOCKED, "");
	play_contact(s, "300#0000", "300#0001");
}

static void test_the_vehicle_file_says_what_a_bit_is(void **state)
{
	(void)state;
	struct scene s;
	play_named(&s, "Latch: { at: byte 1 bit 0, values: { 0: closed, 1: open } }");
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_non_null(strstr(evidence(f, "door unit", NOD_EV_PAYLOAD), "Latch (300) changed"));
	assert_non_null(strstr(evidence(f, "door unit", NOD_EV_PAYLOAD), "as a switch does"));
	scene_end(&s);
	/* a value that moves is what any follower may have: no line is worth that */
	play_named(&s, "Outside: { at: byte 1 bit 0, bits: 8, unit: degC }");
	assert_null(evidence(found_at(&s, 30 * MIN), "door unit", NOD_EV_PAYLOAD));
	scene_end(&s);
}

/* Where everybody's bits move, that says nothing of one. */
static void test_what_all_show_says_little(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "100#0000", 0, 30 * MIN, 1700}, {0, "100#0004", 800, 30 * MIN, 1700},
	     {0, "200#0000", 10, 30 * MIN, 1700}, {0, "200#0004", 820, 30 * MIN, 1700},
	     {0, "300#0000", 20, 30 * MIN, 1700}, {0, "300#0004", 830, 30 * MIN, 1700},
	     {0, "400#0000", 30, 30 * MIN, 1700}, {0, "400#0004", 840, 30 * MIN, 1700});
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	for (size_t i = 0; i < f->suspect_count; i++)
		assert_true(f->suspects[i].probability < 0.4);
	scene_end(&s);
}

/* The others become slower and drop messages, the door unit goes on as before. */
static void test_who_keeps_its_messages_while_others_thin_out_is_first(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, OTHERS(2 * MIN), {0, "100#00", 2 * MIN, 30 * MIN, 900},
	     {0, "200#00", 2 * MIN + 10, 30 * MIN, 900}, {0, "400#00", 2 * MIN + 20, 30 * MIN, 900},
	     {0, "500#00", 2 * MIN + 30, 30 * MIN, 900}, {0, "300#00", 40, 30 * MIN, 200},
	     {0, "301#00", 43, 30 * MIN, 500});
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_string_equal(f->suspects[0].name, "door unit");
	assert_true(f->suspects[0].probability > 0.5);
	assert_non_null(strstr(evidence(f, "door unit", NOD_EV_UNUSUAL_PERIOD), "as fast as ever"));
	assert_non_null(strstr(evidence(f, "seat unit", NOD_EV_UNUSUAL_PERIOD),
			       "have become slower or stopped"));
	scene_end(&s);
}

/* That a unit sends all its four messages more slowly since it was locked is one fact: without
 * it the network sleeps, and that says more. */
static void test_thinning_out_as_a_whole_counts_once(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, "networks:\n"
			"  body: { interfaces: [can0], sleeps within: 10 min, quiet time: 3 s, "
			"management: { scheme: none } }\n"
			"modules:\n"
			"  roof unit: { ids: [100, 101] }\n"
			"  seat unit: { ids: [200] }\n"
			"  door unit: { ids: [300, 301, 302, 303], fuses: [F1] }\n"
			"  boot unit: { ids: [400] }\n"
			"fuses: { F1: { rating: 5 A } }\n");
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	for (int64_t at = 0, every = 200; at < 30 * MIN;
	     at += at ? 28 * MIN : 2 * MIN, every = 1100)
		PLAY(&s, {0, "300#00", at, at ? 30 * MIN : 2 * MIN, every},
		     {0, "301#00", at + 20, at ? 30 * MIN : 2 * MIN, every},
		     {0, "302#00", at + 40, at ? 30 * MIN : 2 * MIN, every},
		     {0, "303#00", at + 60, at ? 30 * MIN : 2 * MIN, every},
		     {0, "400#00", at + 80, at ? 30 * MIN : 2 * MIN, every},
		     {0, "100#00", at + 10, at ? 30 * MIN : 2 * MIN, 200},
		     {0, "101#00", at + 30, at ? 30 * MIN : 2 * MIN, 200},
		     {0, "200#00", at + 50, at ? 30 * MIN : 2 * MIN, 200});
	mark_at(&s, 30 * MIN, NOD_MARK_ISOLATED, "F1");
	PLAY(&s, {0, "100#00", 30 * MIN, 30 * MIN + 4000, 200});
	const struct nod_findings *f = found_at(&s, 60 * MIN);
	assert_string_equal(f->suspects[0].name, "door unit");
	assert_true(f->suspects[0].probability > 0.5);
	scene_end(&s);
}

/* Every five seconds all talk for three, the door unit first. */
static void test_who_begins_again_after_pauses_is_first(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	for (int64_t t = 0; t < 30 * MIN; t += 5000) {
		for (int64_t k = 0; k < 3000; k += 100) {
			frame_at(&s, t + k, 0, "300#00");
			if (k < 200)
				continue;
			frame_at(&s, t + k + 10, 0, "100#00");
			frame_at(&s, t + k + 20, 0, "200#00");
			frame_at(&s, t + k + 30, 0, "400#00");
		}
	}
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_string_equal(f->suspects[0].name, "door unit");
	assert_true(f->suspects[0].probability > 0.9);
	assert_non_null(
		strstr(evidence(f, "door unit", NOD_EV_RESUMES), "the first to speak again"));
	scene_end(&s);
}

/* Two slow messages, one close after the other: a gap between them is no pause. */
static void test_a_gap_in_which_nobody_is_due_is_no_pause(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "300#00", 0, 30 * MIN, 1000}, {0, "100#00", 10, 30 * MIN, 1000});
	assert_null(evidence(found_at(&s, 30 * MIN), "door unit", NOD_EV_RESUMES));
	scene_end(&s);
}

int main(void)
{
	static const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_who_has_a_switch_that_moves_is_first),
		cmocka_unit_test(test_a_switch_that_is_sent_when_it_moves_counts_once),
		cmocka_unit_test(test_the_vehicle_file_says_what_a_bit_is),
		cmocka_unit_test(test_what_all_show_says_little),
		cmocka_unit_test(test_who_keeps_its_messages_while_others_thin_out_is_first),
		cmocka_unit_test(test_thinning_out_as_a_whole_counts_once),
		cmocka_unit_test(test_who_begins_again_after_pauses_is_first),
		cmocka_unit_test(test_a_gap_in_which_nobody_is_due_is_no_pause),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
