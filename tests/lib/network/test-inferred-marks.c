/* SPDX-License-Identifier: MIT */
/* What somebody pulled without a word, seen in the traffic. */
#include "scene.h"

static const char car[] = "networks:\n  body: { interfaces: [can0], sleeps within: 1 min }\n"
			  "fuses:\n  F1: { rating: 10 A }\n  F2: { rating: 5 A }\n"
			  "modules:\n"
			  "  radio: { ids: [101, 102], fuses: [F1] }\n"
			  "  lamps: { ids: [103, 104], fuses: [F1] }\n"
			  "  doors: { ids: [201, 202], fuses: [F2] }\n"
			  "  gateway: { ids: [301, 302, 303, 304, 305, 306], fuses: [] }\n";

#define OFF 400000
#define ON 500000

/* F1 without power from OFF to ON, the doors from `doors_out` on; ms. */
static void drive_until(struct scene *s, int64_t from, int64_t to, int64_t doors_out)
{
	static const struct {
		const char *frame;
		int64_t period;
	} sent[] = {{"101#00", 100}, {"102#00", 200},  {"103#00", 500}, {"104#00", 200},
		    {"201#00", 100}, {"202#00", 1000}, {"301#00", 100}, {"302#00", 250},
		    {"303#00", 500}, {"304#00", 200},  {"305#00", 100}, {"306#00", 250}};

	for (int64_t t = from; t < to; t += 50)
		for (int i = 0; i < 12; i++)
			if (t % sent[i].period == 0 && (i > 3 || t <= OFF || t >= ON) &&
			    ((i != 4 && i != 5) || t <= doors_out))
				frame_at(s, t, 0, sent[i].frame);
}

static void drive(struct scene *s, int64_t from, int64_t to)
{
	drive_until(s, from, to, INT64_MAX);
}

static void begin(struct scene *s)
{
	scene_begin(s, car);
	drive(s, 0, 1000);
	mark_at(s, 1000, NOD_MARK_LOCKED, "");
}

static void assert_mark(const struct nod_findings *f, size_t i, enum nod_mark_kind kind,
			const char *subject, int64_t ms, bool inferred)
{
	assert_true(i < f->mark_count);
	assert_int_equal(f->marks[i].kind, kind);
	assert_string_equal(f->marks[i].subject, subject);
	assert_in_range(f->marks[i].time.ns, (ms - 200) * NOD_NS_PER_MS,
			(ms + 200) * NOD_NS_PER_MS);
	assert_int_equal(f->marks[i].inferred, inferred);
}

static void test_what_nobody_noted_is_seen_and_asked(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	drive(&s, 1000, 540000);
	const struct nod_findings *f = found_at(&s, 540000);
	assert_int_equal(f->mark_count, 3);
	assert_mark(f, 1, NOD_MARK_ISOLATED, "F1", OFF, true);
	assert_mark(f, 2, NOD_MARK_REFITTED, "F1", ON, true);
	assert_int_equal(f->isolation_count, 1);
	assert_int_equal(f->isolations[0].vanished_count, 4);
	assert_int_equal(f->question_count, 2);
	assert_non_null(strstr(f->questions[0].text, "4 messages of 2 modules stopped at once"));
	assert_non_null(strstr(f->questions[0].text, "was F1 pulled?"));
	scene_end(&s);
}

/* Two samples a second; what F1 feeds takes 310 of 400 mA. */
static void measure(struct scene *s, int64_t from, int64_t to)
{
	for (int64_t t = from; t < to; t += 500) {
		struct nod_event e = {.kind = NOD_EVENT_CURRENT, .time = {t * NOD_NS_PER_MS}};
		e.current.microamps = t > OFF && t < ON ? 90000 : 400000;
		scene_take(s, &e);
	}
}

/* The question about F1 when the current is measured so long before and after it went. */
static void ask_measured(char *text, size_t size, int64_t before, int64_t after)
{
	struct scene s;

	begin(&s);
	drive(&s, 1000, OFF - 10000);
	for (int64_t t = OFF - 10000; t < OFF + 10000; t += 500) {
		drive(&s, t, t + 500);
		if (t >= OFF - before && t < OFF + after)
			measure(&s, t, t + 500);
	}
	drive(&s, OFF + 10000, OFF + 60000);
	const struct nod_findings *f = found_at(&s, OFF + 60000);
	assert_int_equal(f->question_count, 1);
	snprintf(text, size, "%s", f->questions[0].text);
	scene_end(&s);
}

static void test_the_step_of_the_current_is_said_where_it_was_measured(void **state)
{
	(void)state;
	char text[400];
	ask_measured(text, sizeof(text), 10000, 10000);
	assert_non_null(strstr(text, "others went on, 310 mA less: was F1 pulled?"));
	ask_measured(text, sizeof(text), 4000, 10000);
	assert_non_null(strstr(text, "others went on: was F1 pulled?"));
	ask_measured(text, sizeof(text), 10000, 4000);
	assert_non_null(strstr(text, "others went on: was F1 pulled?"));
}

/* The mark comes when the traffic has told it already. */
static void test_a_mark_claims_it(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	drive(&s, 1000, 450000);
	mark_at(&s, 450000, NOD_MARK_ISOLATED, "fuse F1");
	drive(&s, 450000, 460000);
	const struct nod_findings *f = found_at(&s, 460000);
	assert_int_equal(f->mark_count, 2);
	assert_mark(f, 1, NOD_MARK_ISOLATED, "fuse F1", OFF, false);
	assert_int_equal(f->marks[1].entered.ns, 450000 * NOD_NS_PER_MS);
	assert_int_equal(f->question_count, 0);
	scene_end(&s);
}

/* A mark whose own fuse went a little later is of that one. */
static void test_a_mark_with_a_moment_of_its_own_claims_nothing(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	drive_until(&s, 1000, 446000, 440000);
	mark_at(&s, 446000, NOD_MARK_ISOLATED, "F2");
	drive_until(&s, 446000, 480000, 440000);
	const struct nod_findings *f = found_at(&s, 480000);
	assert_int_equal(f->mark_count, 3);
	assert_mark(f, 1, NOD_MARK_ISOLATED, "F1", OFF, true);
	assert_mark(f, 2, NOD_MARK_ISOLATED, "F2", 440000, false);
	assert_null(f->marks[2].meant);
	scene_end(&s);
}

static void test_a_wrong_name_is_contradicted(void **state)
{
	(void)state;
	struct scene s;
	for (int late = 0; late < 2; late++) { /* before and after the traffic has told it */
		int64_t when = late ? 450000 : OFF + 100;
		begin(&s);
		drive(&s, 1000, when);
		mark_at(&s, when, NOD_MARK_ISOLATED, "F2");
		drive(&s, when, 480000);
		const struct nod_findings *f = found_at(&s, 480000);
		assert_int_equal(f->mark_count, 2);
		assert_mark(f, 1, NOD_MARK_ISOLATED, "F2", OFF, false);
		assert_string_equal(f->marks[1].meant, "F1");
		assert_string_equal(f->isolations[0].subject, "F1");
		assert_non_null(strstr(f->isolations[0].text, "Entered was F2, but"));
		scene_end(&s);
	}
}

/* Both fuses are out; F1 comes back, which the person calls F3, then the doors of F2. */
static void test_the_return_of_another_leaves_what_was_meant(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	drive_until(&s, 1000, 420000, 420000);
	for (int64_t at = 420000; at < 600000; at += 1000) {
		if (at == 427000)
			mark_at(&s, at, NOD_MARK_ISOLATED, "F2");
		if (at == ON + 13000)
			mark_at(&s, at, NOD_MARK_REFITTED, "F3");
		drive_until(&s, at, at + 1000, at < ON + 14000 ? 420000 : INT64_MAX);
	}
	const struct nod_findings *f = found_at(&s, 600000);
	assert_int_equal(f->mark_count, 5);
	assert_mark(f, 2, NOD_MARK_ISOLATED, "F2", 420000, false);
	assert_mark(f, 3, NOD_MARK_REFITTED, "F3", ON, false);
	assert_string_equal(f->marks[3].meant, "F1");
	assert_int_equal(f->marks[3].dated_by, 4);
	assert_mark(f, 4, NOD_MARK_REFITTED, "F2", ON + 14000, true);
	scene_end(&s);
}

/* The map lacks one of the modules on the fuse: still that fuse, and what it lacks is said. */
static void test_a_map_with_holes(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, "networks:\n  body: { interfaces: [can0], sleeps within: 1 min }\n"
			"fuses:\n  F1: { rating: 10 A }\n  F2: { rating: 5 A }\n"
			"modules:\n"
			"  radio: { ids: [101, 102], fuses: [F1] }\n"
			"  lamps: { ids: [103], fuses: [F1] }\n"
			"  doors: { ids: [201, 202], fuses: [F2] }\n"
			"  gateway: { ids: [301, 302, 303, 304, 305, 306], fuses: [] }\n");
	drive(&s, 0, 1000);
	mark_at(&s, 1000, NOD_MARK_LOCKED, "");
	drive(&s, 1000, 540000);
	const struct nod_findings *f = found_at(&s, 540000);
	assert_int_equal(f->mark_count, 3);
	assert_mark(f, 1, NOD_MARK_ISOLATED, "F1", OFF, true);
	assert_int_equal(f->marks[1].dated_by, 4);
	assert_int_equal(f->marks[1].unmapped, 1);
	assert_non_null(strstr(f->questions[0].text, "(1 not in the map)"));
	assert_non_null(strstr(f->questions[0].text, "vehicle learn"));
	assert_null(strstr(f->questions[1].text, "not in the map"));
	scene_end(&s);
}

/* How likely the map is beside a mark that contradicts it: less with the same mark again, more
 * with one that agrees. */
static void test_map_against_mark(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	drive(&s, 1000, OFF + 100);
	mark_at(&s, OFF + 100, NOD_MARK_ISOLATED, "F2");
	drive(&s, OFF + 100, 480000);
	assert_non_null(strstr(found_at(&s, 480000)->isolations[0].text,
			       "map and mark disagree, 4 to 1 for the map."));
	mark_at(&s, ON + 100, NOD_MARK_REFITTED, "F2");
	drive(&s, ON + 100, 700000);
	drive_until(&s, 700000, 702000, 700000);
	mark_at(&s, 702000, NOD_MARK_ISOLATED, "F2"); /* now the doors, as the map has it */
	drive_until(&s, 702000, 800000, 700000);
	assert_non_null(strstr(found_at(&s, 800000)->isolations[0].text, "100 to 1 for the map"));
	scene_end(&s);
}

/* The person says that it was nobody's doing: it is not asked again. */
static void test_nothing_was_done(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	drive(&s, 1000, OFF + 50);
	mark_at(&s, OFF + 50, NOD_MARK_NOTHING, "");
	drive(&s, OFF + 50, 480000);
	assert_int_equal(found_at(&s, 480000)->mark_count, 2);
	assert_int_equal(s.found->question_count, 0);
	scene_end(&s);
}

/* On the way to sleep modules leave by themselves. */
static void test_not_before_the_deadline(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	drive(&s, 1000, OFF - 30000);
	mark_at(&s, OFF - 30000, NOD_MARK_DOOR, "");
	drive(&s, OFF - 30000, 450000);
	assert_int_equal(found_at(&s, 450000)->mark_count, 2);
	scene_end(&s);
}

/* What was lost is nobody's doing either. */
static void test_not_where_frames_were_lost(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	drive(&s, 1000, OFF + 100);
	loss_at(&s, OFF + 100, 0);
	drive(&s, OFF + 100, 450000);
	assert_int_equal(found_at(&s, 450000)->mark_count, 1);
	scene_end(&s);
}

/* Its slow followers end with it, and seem to have ended before it: its last frames came after
 * theirs. Nothing of it goes on until they are missed. */
static void test_who_follows_is_not_what_was_pulled(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, "networks:\n  body: { interfaces: [can0], sleeps within: 1 min }\n"
			"fuses:\n  F1: { rating: 10 A }\n  F2: { rating: 5 A }\n"
			"modules:\n  radio: { ids: [101, 102], fuses: [F1] }\n"
			"  parking aid: { ids: [201, 202, 203], fuses: [F2] }\n"
			"  gateway: { ids: [301, 302, 303, 304], fuses: [] }\n");
	static const char *const slow[] = {"201#00", "202#00", "203#00", "301#00",
					   "302#00", "303#00", "304#00"};
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	for (int64_t t = 0; t < 450000; t += 50) {
		if (t <= 390400)
			frame_at(&s, t, 0, t % 100 ? "101#00" : "102#00");
		for (int i = 0; t % 1500 == 0 && i < 7; i++)
			if (i > 2 || t <= 390000)
				frame_at(&s, t, 0, slow[i]);
		if (t == 390400)
			mark_at(&s, t, NOD_MARK_ISOLATED, "F1");
	}
	const struct nod_findings *f = found_at(&s, 450000);
	assert_int_equal(f->isolation_count, 1);
	assert_string_equal(f->isolations[0].subject, "F1");
	assert_null(strstr(f->isolations[0].text, "disagree"));
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_what_nobody_noted_is_seen_and_asked),
		cmocka_unit_test(test_the_step_of_the_current_is_said_where_it_was_measured),
		cmocka_unit_test(test_a_mark_claims_it),
		cmocka_unit_test(test_a_mark_with_a_moment_of_its_own_claims_nothing),
		cmocka_unit_test(test_a_wrong_name_is_contradicted),
		cmocka_unit_test(test_the_return_of_another_leaves_what_was_meant),
		cmocka_unit_test(test_a_map_with_holes),
		cmocka_unit_test(test_map_against_mark),
		cmocka_unit_test(test_nothing_was_done),
		cmocka_unit_test(test_not_before_the_deadline),
		cmocka_unit_test(test_not_where_frames_were_lost),
		cmocka_unit_test(test_who_follows_is_not_what_was_pulled),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
