/* SPDX-License-Identifier: MIT */
/* When the hand was at the fuse, by the messages that stopped and came back. */
#include "scene.h"

static const char car[] = "networks:\n  body: { interfaces: [can0], sleeps within: 1 min }\n"
			  "fuses:\n  F1: { rating: 10 A }\n  F2: { rating: 5 A }\n"
			  "modules:\n"
			  "  radio: { ids: [101, 102], fuses: [F1] }\n"
			  "  lamps: { ids: [103], fuses: [F1] }\n"
			  "  doors: { ids: [201, 202], fuses: [F2] }\n"
			  "  gateway: { ids: [301, 302, 303], fuses: [] }\n";

/* F1 without power from `off` to `on`, F2 all the time; ms. */
static void drive(struct scene *s, int64_t from, int64_t to, int64_t off, int64_t on)
{
	static const char *const ids[] = {"101#00", "102#00", "103#00", "201#00",
					  "202#00", "301#00", "302#00", "303#00"};
	static const int64_t periods[] = {100, 200, 500, 100, 1000, 100, 250, 500};

	for (int64_t t = from; t < to; t += 50)
		for (int i = 0; i < 8; i++)
			if (t % periods[i] == 0 && (i > 2 || t <= off || t >= on))
				frame_at(s, t, 0, ids[i]);
}

static const struct nod_mark_finding *found_mark(struct scene *s, int64_t ms, size_t index)
{
	const struct nod_findings *f = found_at(s, ms);

	assert_true(f->mark_count > index);
	return &f->marks[index];
}

static void test_a_late_mark_is_dated(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, car);
	drive(&s, 0, 140000, 100000, 160000);
	mark_at(&s, 140000, NOD_MARK_ISOLATED, "F1");
	drive(&s, 140000, 190000, 100000, 160000);
	mark_at(&s, 190000, NOD_MARK_REFITTED, "F1");
	drive(&s, 190000, 200000, 100000, 160000);
	const struct nod_mark_finding *off = found_mark(&s, 200000, 0), *on = &s.found->marks[1];
	assert_int_equal(off->entered.ns, 140000 * NOD_NS_PER_MS);
	assert_int_equal(off->dated_by, 3);
	assert_in_range(off->time.ns, 100000 * NOD_NS_PER_MS, 100100 * NOD_NS_PER_MS);
	assert_int_equal(on->time.ns, 160000 * NOD_NS_PER_MS);
	assert_int_equal(on->dated_by, 3);
	assert_int_equal(s.found->isolations[0].vanished_count, 3); /* counted from then on */
	assert_non_null(strstr(s.found->isolations[0].text, "The mark came 40.0 s later"));
	scene_end(&s);
}

static void test_what_went_on_dates_nothing(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, car);
	drive(&s, 0, 140000, 100000, 160000);
	mark_at(&s, 140000, NOD_MARK_ISOLATED, "F2");
	const struct nod_mark_finding *mark = found_mark(&s, 141000, 0);
	assert_int_equal(mark->time.ns, mark->entered.ns);
	assert_int_equal(mark->dated_by, 0);
	scene_end(&s);
}

/* All fall silent together: that is a network that sleeps, or nobody who listens. */
static void test_all_at_once_is_no_hand(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, car);
	drive(&s, 0, 20000, 100000, 160000);
	mark_at(&s, 60000, NOD_MARK_ISOLATED, "F1");
	assert_int_equal(found_mark(&s, 61000, 0)->dated_by, 0);
	scene_end(&s);
}

/* Nobody was at a second fuse before the first was done with. */
static void test_not_before_the_mark_before(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, car);
	drive(&s, 0, 120000, 100000, 160000);
	mark_at(&s, 120000, NOD_MARK_DOOR, "");
	drive(&s, 120000, 140000, 100000, 160000);
	mark_at(&s, 140000, NOD_MARK_ISOLATED, "F1");
	assert_int_equal(found_mark(&s, 141000, 1)->dated_by, 0);
	scene_end(&s);
}

/* Pulled and put back before either was entered. */
static void test_both_marks_late(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, car);
	drive(&s, 0, 180000, 100000, 130000);
	mark_at(&s, 180000, NOD_MARK_ISOLATED, "F1");
	mark_at(&s, 181000, NOD_MARK_REFITTED, "F1");
	const struct nod_mark_finding *off = found_mark(&s, 182000, 0), *on = &s.found->marks[1];
	assert_in_range(off->time.ns, 100000 * NOD_NS_PER_MS, 100100 * NOD_NS_PER_MS);
	assert_int_equal(on->time.ns, 130000 * NOD_NS_PER_MS);
	scene_end(&s);
}

/* Six messages of one module on can<interface>, one every 10 ms in turn. */
static void six_at(struct scene *s, int64_t t, int interface, int first)
{
	char frame[16];

	snprintf(frame, sizeof(frame), "%X#00", (unsigned)(first + t / 10 % 6));
	frame_at(s, t, interface, frame);
}

static const char two[] = "networks:\n  body: { interfaces: [can0], sleeps within: 1 min }\n"
			  "  media: { interfaces: [can1], sleeps within: 1 min }\n"
			  "fuses:\n  F1: { rating: 10 A }\n"
			  "modules:\n  radio: { ids: [100-105], fuses: [F1] }\n"
			  "  doors: { ids: [200-205], fuses: [] }\n";

/* One network fell asleep by itself while another went on: that tells of no fuse. */
static void test_a_network_that_sleeps_alone_is_no_hand(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, two);
	for (int64_t t = 0; t < 140000; t += 10) {
		six_at(&s, t, 0, 0x200);
		if (t < 80000)
			six_at(&s, t, 1, 0x100);
	}
	mark_at(&s, 140000, NOD_MARK_ISOLATED, "F1");
	assert_int_equal(found_mark(&s, 141000, 0)->dated_by, 0);
	scene_end(&s);
}

/* On the way to sleep one module leaves before another: that it does tells of no fuse either, least
 * of all where it was woken with the others before the fuse was noted. */
static void test_the_order_of_going_to_sleep_is_no_hand(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, two);
	for (int64_t t = 0; t < 40000; t += 10) {
		six_at(&s, t, 0, 0x200);
		if (t < 30000)
			six_at(&s, t, 0, 0x100);
	}
	six_at(&s, 80000, 0, 0x100);
	six_at(&s, 80010, 0, 0x200);
	mark_at(&s, 100000, NOD_MARK_ISOLATED, "radio");
	assert_int_equal(found_mark(&s, 101000, 0)->dated_by, 0);
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_a_late_mark_is_dated),
		cmocka_unit_test(test_what_went_on_dates_nothing),
		cmocka_unit_test(test_all_at_once_is_no_hand),
		cmocka_unit_test(test_not_before_the_mark_before),
		cmocka_unit_test(test_both_marks_late),
		cmocka_unit_test(test_a_network_that_sleeps_alone_is_no_hand),
		cmocka_unit_test(test_the_order_of_going_to_sleep_is_no_hand),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
