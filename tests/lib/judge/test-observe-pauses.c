/* SPDX-License-Identifier: MIT */
/* Who never pauses while all others fall silent and are woken again. */
#include "scene.h"

static const char map[] =
	"networks:\n  body: { interfaces: [can0], sleeps within: 10 s, quiet time: 6 s }\n"
	"modules:\n"
	"  talker: { networks: [body], ids: [100] }\n"
	"  left: { networks: [body], ids: [200, 210] }\n"
	"  right: { networks: [body], ids: [300] }\n";

/* The talker every `period` ms; the others every 100 in stretches of `on` and pauses of `off`. */
static void talk_every(struct scene *s, int64_t period, int64_t on, int64_t off, bool left_pauses)
{
	scene_begin(s, map);
	nod_engine_set_lock(s->engine, (nod_time){0}, NOD_LOCK_FROM_OPTION);
	for (int64_t ms = 0; ms < 120000; ms += 100) {
		bool on_now = ms < 10000 || ms % (on + off) < on;
		if (ms % period == 0)
			frame_at(s, ms, 0, "100#00");
		if (on_now || !left_pauses)
			frame_at(s, ms + 10, 0, "200#01");
		if (on_now)
			frame_at(s, ms + 20, 0, "300#02");
	}
}

static void talk(struct scene *s, int64_t on, int64_t off, bool left_pauses)
{
	talk_every(s, 100, on, off, left_pauses);
}

/* That it was alone and that it never paused are one fact, and said once. */
static double weight_of(const struct nod_findings *f, const char *name)
{
	double weight = 0;

	for (size_t i = 0; i < f->suspect_count; i++)
		for (size_t k = 0; k < f->suspects[i].evidence_count; k++)
			if (!strcmp(f->suspects[i].name, name) &&
			    (f->suspects[i].evidence[k].kind == NOD_EV_NO_PAUSE ||
			     f->suspects[i].evidence[k].kind == NOD_EV_ALONE))
				weight += f->suspects[i].evidence[k].weight;
	return weight;
}

static void test_the_one_without_pauses_is_named(void **state)
{
	(void)state;
	struct scene s;

	talk(&s, 4000, 2000, true);
	const struct nod_findings *f = found_at(&s, 120000);
	assert_true(weight_of(f, "talker") >= 5 && weight_of(f, "talker") <= 6);
	assert_true(weight_of(f, "left") <= 0);
	assert_string_equal(f->suspects[0].name, "talker");
	assert_true(f->suspects[0].probability >= 0.9);
	scene_end(&s);
}

/* The others fall silent seldom, but again and again: what is said of how long that was is no
 * reason to leave the rest unsaid. */
static void test_having_been_alone_for_a_moment_leaves_the_rest(void **state)
{
	(void)state;
	struct scene s;

	talk(&s, 18000, 2000, true);
	const struct nod_findings *f = found_at(&s, 120000);
	assert_true(weight_of(f, "talker") >= 5 && weight_of(f, "talker") <= 6);
	assert_true(f->suspects[0].probability >= 0.9);
	scene_end(&s);
}

/* Who speaks every 600 ms is silent for that long: the others are for 800, and for 1000. */
static void test_pauses_are_longer_than_the_silence_of_the_one_without(void **state)
{
	(void)state;
	struct scene s;

	talk_every(&s, 600, 4000, 700, true);
	assert_true(weight_of(found_at(&s, 120000), "talker") <= 0);
	scene_end(&s);
	talk_every(&s, 600, 4000, 900, true);
	assert_true(weight_of(found_at(&s, 120000), "talker") >= 5);
	scene_end(&s);
}

static void test_two_without_pauses_say_nothing(void **state)
{
	(void)state;
	struct scene s;

	talk(&s, 4000, 2000, false);
	const struct nod_findings *f = found_at(&s, 120000);
	assert_true(weight_of(f, "talker") <= 0);
	assert_true(weight_of(f, "left") <= 0);
	scene_end(&s);
}

static void test_without_pauses_of_others_nothing_is_said(void **state)
{
	(void)state;
	struct scene s;

	talk(&s, 6000, 0, true);
	assert_true(weight_of(found_at(&s, 120000), "talker") <= 0);
	scene_end(&s);
}

/* Each of the others slow and silent in its own time: nobody wakes anybody. */
static void test_silences_at_different_times_are_nobodys_mark(void **state)
{
	(void)state;
	struct scene s;

	scene_begin(&s, map);
	nod_engine_set_lock(s.engine, (nod_time){0}, NOD_LOCK_FROM_OPTION);
	for (int64_t ms = 0; ms < 120000; ms += 100) {
		frame_at(&s, ms, 0, "100#00");
		if (ms < 10000 || ms % 8000 < 4000)
			frame_at(&s, ms + 10, 0, "200#01");
		if (ms < 10000 || ms % 8000 >= 3900)
			frame_at(&s, ms + 20, 0, "300#02");
	}
	assert_true(weight_of(found_at(&s, 120000), "talker") <= 0);
	scene_end(&s);
}

/* Without a message of management between them, nodes that are woken again each keep a time of
 * their own: they are never silent all at once, and talk at their pace in between. */
static void test_pauses_need_not_be_at_the_same_time(void **state)
{
	(void)state;
	struct scene s;

	for (unsigned others = 2; others <= 3; others++) {
		scene_begin(&s, "networks:\n  body: { interfaces: [can0], sleeps within: 10 s, "
				"quiet time: 6 s }\n");
		nod_engine_set_lock(s.engine, (nod_time){0}, NOD_LOCK_FROM_OPTION);
		for (int64_t ms = 0; ms < 120000; ms += 100) {
			frame_at(&s, ms, 0, "100#00");
			for (unsigned i = 0; i < others; i++) {
				char text[16];
				snprintf(text, sizeof(text), "%X00#01", i + 2);
				if (ms < 10000 || (ms + 1500 * i) % 4400 < 2000)
					frame_at(&s, ms + 10 * i + 10, 0, text);
			}
		}
		const struct nod_findings *f = found_at(&s, 120000);
		if (others == 2)
			assert_null(evidence(f, "ID 100", NOD_EV_NO_PAUSE)); /* it may be chance */
		else
			assert_true(probability(f, "ID 100") >= 0.9);
		scene_end(&s);
	}
}

/* It speaks once a second, as long as the others are silent: it ends each silence of all. One of
 * them is silent for less than it, and another joined after the deadline. */
static void test_a_slow_one_that_ends_each_silence_is_named(void **state)
{
	(void)state;
	struct scene s;

	scene_begin(&s, map);
	nod_engine_set_lock(s.engine, (nod_time){0}, NOD_LOCK_FROM_OPTION);
	for (int64_t ms = 0; ms < 200000; ms += 100) {
		int64_t in = ms % 4000;
		if (!(ms % 1000))
			frame_at(&s, ms, 0, "100#00");
		if (ms < 10000 || in < 3200 || in >= 3950)
			frame_at(&s, ms + 10, 0, "200#01");
		if (ms > 40000 && in < 3000)
			frame_at(&s, ms + 20, 0, "300#02");
	}
	const struct nod_findings *f = found_at(&s, 200000);
	assert_string_equal(f->suspects[0].name, "talker");
	assert_non_null(strstr(evidence(f, "talker", NOD_EV_NO_PAUSE), "never stopped talking"));
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_the_one_without_pauses_is_named),
		cmocka_unit_test(test_pauses_need_not_be_at_the_same_time),
		cmocka_unit_test(test_a_slow_one_that_ends_each_silence_is_named),
		cmocka_unit_test(test_having_been_alone_for_a_moment_leaves_the_rest),
		cmocka_unit_test(test_pauses_are_longer_than_the_silence_of_the_one_without),
		cmocka_unit_test(test_two_without_pauses_say_nothing),
		cmocka_unit_test(test_without_pauses_of_others_nothing_is_said),
		cmocka_unit_test(test_silences_at_different_times_are_nobodys_mark),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
