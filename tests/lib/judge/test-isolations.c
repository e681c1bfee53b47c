/* SPDX-License-Identifier: MIT */
#include "scene.h"

#define MIN (60 * 1000)
#define MS NOD_NS_PER_MS

static const char body[] =
	"networks:\n"
	"  body: { interfaces: [can0], bitrate: 500000, sleeps within: 10 min, quiet time: 3 s, "
	"management: { scheme: none } }\n"
	"modules:\n"
	"  roof unit: { ids: [100], fuses: [F1] }\n"
	"  seat unit: { ids: [200, 201], fuses: [F2] }\n"
	"  door unit: { ids: [300], fuses: [F2] }\n"
	"fuses:\n"
	"  F1: { rating: 10 A }\n"
	"  F2: { rating: 15 A }\n"
	"  F9: { rating: 5 A }\n";

/* All talk until 20 min, when something is isolated. */
static void talk_until_isolated(struct scene *s, const char *subject)
{
	scene_begin(s, body);
	mark_at(s, 0, NOD_MARK_LOCKED, "");
	PLAY(s, {0, "100#00", 0, 20 * MIN, 100}, {0, "200#00", 10, 20 * MIN, 200},
	     {0, "201#00", 15, 20 * MIN, 500}, {0, "300#00", 20, 20 * MIN, 100});
	mark_at(s, 20 * MIN, NOD_MARK_ISOLATED, subject);
}

static const struct nod_isolation_finding *isolation_at(struct scene *s, int64_t ms)
{
	const struct nod_findings *f = found_at(s, ms);
	assert_int_equal(f->isolation_count, 1);
	return &f->isolations[0];
}

static bool has_vanished(const struct scene *s, uint32_t id)
{
	const struct nod_isolation_finding *t = &s->found->isolations[0];
	for (size_t i = 0; i < t->vanished_count; i++)
		if (s->found->idents[t->vanished[i]].id == id)
			return true;
	return false;
}

static void roof_goes_on(struct scene *s, int64_t from, int64_t to)
{
	PLAY(s, {0, "100#00", from, to, 100});
}

static void test_asleep_for_some_minutes_is_not_yet_proof(void **state)
{
	(void)state;
	struct scene s;
	talk_until_isolated(&s, "F2");
	roof_goes_on(&s, 20 * MIN, 20 * MIN + 15000);
	const struct nod_isolation_finding *t = isolation_at(&s, 25 * MIN);
	assert_int_equal(t->result, NOD_ISOLATION_SLEPT);
	assert_int_equal(t->slept_after.ns, (15000 - 100) * MS);
	assert_false(nod_time_is_set(t->refitted));
	assert_non_null(strstr(t->text, "F2 isolated at"));
	scene_end(&s);
}

static void test_a_long_sleep_is_proof_and_says_that_it_is_one_way(void **state)
{
	(void)state;
	struct scene s;
	talk_until_isolated(&s, "F2");
	roof_goes_on(&s, 20 * MIN, 20 * MIN + 15000);
	const struct nod_isolation_finding *t = isolation_at(&s, 40 * MIN);
	assert_int_equal(t->result, NOD_ISOLATION_PROVED);
	assert_non_null(strstr(t->text, "long clean sleep"));
	assert_null(strstr(t->text, "both ways"));
	scene_end(&s);
}

/* What falls silent once the fuse is back did not do so for want of it. */
static void test_a_sleep_after_the_refit_is_not_the_isolation_s(void **state)
{
	(void)state;
	struct scene s;
	talk_until_isolated(&s, "F2");
	roof_goes_on(&s, 20 * MIN, 24 * MIN);
	mark_at(&s, 22 * MIN, NOD_MARK_REFITTED, "F2");
	PLAY(&s, {0, "200#00", 22 * MIN, 24 * MIN, 200});
	const struct nod_isolation_finding *t = isolation_at(&s, 30 * MIN);
	assert_int_not_equal(t->result, NOD_ISOLATION_SLEPT);
	assert_int_not_equal(t->result, NOD_ISOLATION_PROVED);
	scene_end(&s);
}

/* A lossy adapter: silence that was not listened to is no sleep. */
static void test_silence_nobody_heard_is_no_proof(void **state)
{
	(void)state;
	struct scene s;
	talk_until_isolated(&s, "F2");
	roof_goes_on(&s, 20 * MIN, 20 * MIN + 15000);
	loss_at(&s, 20 * MIN + 15000, 0);
	assert_int_not_equal(isolation_at(&s, 40 * MIN)->result, NOD_ISOLATION_PROVED);
	scene_end(&s);
}

static void test_awake_again_with_the_refit_is_proof_both_ways(void **state)
{
	(void)state;
	struct scene s;
	talk_until_isolated(&s, "seat unit");
	roof_goes_on(&s, 20 * MIN, 20 * MIN + 15000);
	mark_at(&s, 24 * MIN, NOD_MARK_REFITTED, "the seat unit");
	PLAY(&s, {0, "200#00", 24 * MIN, 36 * MIN, 200});
	const struct nod_isolation_finding *t = isolation_at(&s, 36 * MIN - 100);
	assert_int_equal(t->result, NOD_ISOLATION_PROVED);
	assert_int_equal(t->refitted.ns, 24 * MIN * MS);
	assert_non_null(strstr(t->text, "both ways"));
	scene_end(&s);
}

/* Every refit wakes the car for a while; going back to sleep is no proof. */
static void test_a_refit_after_which_it_sleeps_again_proves_nothing(void **state)
{
	(void)state;
	struct scene s;
	talk_until_isolated(&s, "seat unit");
	roof_goes_on(&s, 20 * MIN, 20 * MIN + 15000);
	mark_at(&s, 24 * MIN, NOD_MARK_REFITTED, "seat unit");
	PLAY(&s, {0, "200#00", 24 * MIN, 24 * MIN + 30000, 200});
	assert_int_equal(isolation_at(&s, 40 * MIN)->result, NOD_ISOLATION_SLEPT);
	scene_end(&s);
}

/* ---- held against what would have happened anyway ---- */

/* All talk until `stop`; the seat unit is isolated at `isolated` (ms). */
static void four_stop_by_themselves(struct scene *s, int64_t isolated, int64_t stop)
{
	scene_begin(s, body);
	mark_at(s, 0, NOD_MARK_LOCKED, "");
	PLAY(s, {0, "100#00", 0, isolated, 100}, {0, "200#00", 10, isolated, 200},
	     {0, "201#00", 15, isolated, 500}, {0, "300#00", 20, isolated, 100});
	mark_at(s, isolated, NOD_MARK_ISOLATED, "seat unit");
	PLAY(s, {0, "100#00", isolated, stop, 100}, {0, "300#00", isolated + 20, stop, 100});
}

static double suspicion_of(const struct nod_findings *f, const char *name)
{
	for (size_t i = 0; i < f->suspect_count; i++)
		if (!strcmp(f->suspects[i].name, name))
			return f->suspects[i].probability;
	return 0;
}

/* Asleep for long; the pull itself wakes the car for a minute. That it sleeps again is no
 * news. */
static void test_what_the_pull_itself_woke_was_asleep(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, body);
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, 15 * MIN, 100}, {0, "200#00", 10, 15 * MIN, 200});
	mark_at(&s, 25 * MIN, NOD_MARK_ISOLATED, "seat unit");
	PLAY(&s, {0, "100#00", 25 * MIN + 200, 26 * MIN, 100});
	const struct nod_isolation_finding *t = isolation_at(&s, 50 * MIN);
	assert_int_equal(t->result, NOD_ISOLATION_UNDECIDED);
	assert_non_null(strstr(t->text, "no network was awake"));
	scene_end(&s);
}

/* Isolated three seconds past a deadline of ten minutes, asleep 27 s later, for an hour: a
 * car that is a little slow does the same. */
static void test_sleep_right_after_the_deadline_is_no_proof(void **state)
{
	(void)state;
	struct scene s;
	four_stop_by_themselves(&s, 10 * MIN + 3000, 10 * MIN + 30000);
	const struct nod_findings *f = found_at(&s, 70 * MIN);
	assert_int_equal(f->isolations[0].result, NOD_ISOLATION_SLEPT);
	assert_true(f->isolations[0].by_chance > 0.8);
	assert_true(suspicion_of(f, "seat unit") < 0.5);
	assert_non_null(strstr(f->isolations[0].text, "no proof"));
	scene_end(&s);
}

/* ... and with it in place it sleeps again by itself. */
static void test_asleep_with_the_part_back_is_no_proof(void **state)
{
	(void)state;
	struct scene s;
	four_stop_by_themselves(&s, 10 * MIN + 3000, 10 * MIN + 30000);
	mark_at(&s, 20 * MIN, NOD_MARK_REFITTED, "seat unit");
	PLAY(&s, {0, "100#00", 20 * MIN, 28 * MIN, 100}, {0, "200#00", 20 * MIN, 28 * MIN, 200},
	     {0, "300#00", 20 * MIN, 28 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 70 * MIN);
	assert_int_equal(f->isolations[0].refit, NOD_REFIT_SLEPT);
	assert_int_equal(f->isolations[0].result, NOD_ISOLATION_SLEPT);
	assert_true(suspicion_of(f, "seat unit") < 0.3);
	assert_null(strstr(f->isolations[0].text, "both ways"));
	for (size_t i = 0; i < f->suspect_count; i++)
		assert_false(f->suspects[i].proved);
	scene_end(&s);
}

/* Awake again for a third of the time that any car may take says little. */
static void test_a_refit_is_watched_against_the_time_it_may_take(void **state)
{
	(void)state;
	struct scene s;
	four_stop_by_themselves(&s, 11 * MIN, 11 * MIN + 5000);
	mark_at(&s, 16 * MIN, NOD_MARK_REFITTED, "seat unit");
	PLAY(&s, {0, "100#00", 16 * MIN, 19 * MIN, 100}, {0, "200#00", 16 * MIN, 19 * MIN, 200});
	assert_int_equal(isolation_at(&s, 19 * MIN)->result, NOD_ISOLATION_SLEPT);
	PLAY(&s, {0, "100#00", 19 * MIN, 30 * MIN, 100}, {0, "200#00", 19 * MIN, 30 * MIN, 200});
	const struct nod_isolation_finding *t = isolation_at(&s, 30 * MIN);
	assert_int_equal(t->result, NOD_ISOLATION_PROVED);
	assert_int_equal(t->refit, NOD_REFIT_AWAKE);
	scene_end(&s);
}

/* Once may be chance, where three times are not. */
static void test_what_is_repeated_is_proof(void **state)
{
	(void)state;
	struct scene s;
	four_stop_by_themselves(&s, 10 * MIN + 30000, 10 * MIN + 40000);
	for (int64_t t = 12 * MIN; t < 24 * MIN; t += 6 * MIN) {
		mark_at(&s, t, NOD_MARK_REFITTED, "seat unit");
		PLAY(&s, {0, "100#00", t, t + 3 * MIN, 100}, {0, "200#00", t, t + 3 * MIN, 200});
		mark_at(&s, t + 3 * MIN, NOD_MARK_ISOLATED, "seat unit");
		PLAY(&s, {0, "100#00", t + 3 * MIN, t + 3 * MIN + 10000, 100});
	}
	const struct nod_findings *f = found_at(&s, 40 * MIN);
	assert_int_equal(f->isolation_count, 3);
	assert_int_equal(f->isolations[0].result, NOD_ISOLATION_SLEPT);
	assert_int_equal(f->isolations[2].result, NOD_ISOLATION_PROVED);
	assert_non_null(strstr(f->isolations[2].text, "3 isolations"));
	scene_end(&s);
}

static void test_awake_all_the_same_is_unchanged(void **state)
{
	(void)state;
	struct scene s;
	talk_until_isolated(&s, "fuse F2");
	roof_goes_on(&s, 20 * MIN, 30 * MIN);
	const struct nod_isolation_finding *t = isolation_at(&s, 30 * MIN - 100);
	assert_int_equal(t->result, NOD_ISOLATION_UNCHANGED);
	assert_int_equal(t->slept_after.ns, (10 * MIN - 100) * MS);
	scene_end(&s);
}

/* Pulling a fuse is a disturbance; the network has to settle from it. */
static void test_a_minute_is_too_short_to_tell(void **state)
{
	(void)state;
	struct scene s;
	talk_until_isolated(&s, "F2");
	roof_goes_on(&s, 20 * MIN, 21 * MIN);
	mark_at(&s, 21 * MIN, NOD_MARK_REFITTED, "F2");
	roof_goes_on(&s, 21 * MIN, 30 * MIN);
	const struct nod_isolation_finding *t = isolation_at(&s, 30 * MIN - 100);
	assert_int_equal(t->result, NOD_ISOLATION_UNDECIDED);
	assert_non_null(strstr(t->text, "too short"));
	scene_end(&s);
}

static void test_a_door_ends_the_watching(void **state)
{
	(void)state;
	struct scene s;
	talk_until_isolated(&s, "F2");
	roof_goes_on(&s, 20 * MIN, 21 * MIN);
	mark_at(&s, 21 * MIN, NOD_MARK_DOOR, "left");
	roof_goes_on(&s, 21 * MIN, 30 * MIN);
	assert_int_equal(isolation_at(&s, 30 * MIN - 100)->result, NOD_ISOLATION_UNDECIDED);
	scene_end(&s);
}

static void test_frames_that_go_on_show_that_it_was_not_off(void **state)
{
	(void)state;
	struct scene s;
	talk_until_isolated(&s, "F1");
	PLAY(&s, {0, "100#00", 20 * MIN, 30 * MIN, 100},
	     {0, "300#00", 20 * MIN + 20, 30 * MIN, 100});
	const struct nod_isolation_finding *t = isolation_at(&s, 30 * MIN - 100);
	assert_int_equal(t->result, NOD_ISOLATION_NOT_OFF);
	assert_non_null(strstr(t->text, "frames went on"));
	scene_end(&s);
}

/* A person enters the mark some seconds after the deed. */
static void test_a_mark_some_seconds_late_is_understood(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, body);
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, 20 * MIN, 100}, {0, "200#00", 10, 20 * MIN - 4000, 200},
	     {0, "201#00", 15, 20 * MIN - 4000, 500}, {0, "300#00", 20, 20 * MIN - 4000, 100});
	mark_at(&s, 20 * MIN, NOD_MARK_ISOLATED, "F2");
	roof_goes_on(&s, 20 * MIN, 30 * MIN);
	assert_int_equal(isolation_at(&s, 30 * MIN - 100)->result, NOD_ISOLATION_UNCHANGED);
	assert_true(has_vanished(&s, 0x200));
	scene_end(&s);
}

/* Two modules of one fuse vanish with it, all their messages, and nobody else's. */
static void test_what_vanishes_with_a_fuse_is_listed(void **state)
{
	(void)state;
	struct scene s;
	talk_until_isolated(&s, "F2");
	roof_goes_on(&s, 20 * MIN, 30 * MIN);
	assert_int_equal(isolation_at(&s, 30 * MIN - 100)->vanished_count, 3);
	assert_true(has_vanished(&s, 0x200));
	assert_true(has_vanished(&s, 0x201));
	assert_true(has_vanished(&s, 0x300));
	assert_false(has_vanished(&s, 0x100));
	scene_end(&s);
}

/* A fuse the map hangs nothing on: what falls silent with it is found. */
static void test_what_vanishes_with_an_unknown_thing_is_listed(void **state)
{
	(void)state;
	struct scene s;
	talk_until_isolated(&s, "the box under the seat");
	PLAY(&s, {0, "100#00", 20 * MIN, 30 * MIN, 100}, {0, "200#00", 20 * MIN, 30 * MIN, 200},
	     {0, "201#00", 20 * MIN, 30 * MIN, 500});
	const struct nod_isolation_finding *t = isolation_at(&s, 30 * MIN - 100);
	assert_int_equal(t->fuse, NOD_NONE);
	assert_int_equal(t->module, NOD_NONE);
	assert_int_equal(t->vanished_count, 1);
	assert_true(has_vanished(&s, 0x300));
	scene_end(&s);
}

/* Proof of a fuse is proof that it is one of what hangs on it, and of none of them. */
static void test_a_fuse_of_two_proves_neither_of_them(void **state)
{
	(void)state;
	struct scene s;
	talk_until_isolated(&s, "F2");
	roof_goes_on(&s, 20 * MIN, 20 * MIN + 15000);
	const struct nod_findings *f = found_at(&s, 40 * MIN);
	assert_int_equal(f->isolations[0].result, NOD_ISOLATION_PROVED);
	for (size_t i = 0; i < f->suspect_count; i++) {
		const char *name = f->suspects[i].name;
		assert_false(f->suspects[i].proved);
		if (!strcmp(name, "seat unit") || !strcmp(name, "door unit"))
			assert_true(f->suspects[i].probability > 0.3 &&
				    f->suspects[i].probability < 0.7);
	}
	assert_non_null(strstr(f->sentence, "what hangs on F2"));
	assert_non_null(strstr(f->next, "plug of"));
	scene_end(&s);
}

static void test_nothing_awake_is_undecided(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, body);
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, MIN, 100});
	mark_at(&s, 20 * MIN, NOD_MARK_ISOLATED, "F1");
	const struct nod_isolation_finding *t = isolation_at(&s, 40 * MIN);
	assert_int_equal(t->result, NOD_ISOLATION_UNDECIDED);
	assert_int_equal(t->network, NOD_NONE);
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_a_sleep_after_the_refit_is_not_the_isolation_s),
		cmocka_unit_test(test_asleep_for_some_minutes_is_not_yet_proof),
		cmocka_unit_test(test_a_long_sleep_is_proof_and_says_that_it_is_one_way),
		cmocka_unit_test(test_silence_nobody_heard_is_no_proof),
		cmocka_unit_test(test_awake_again_with_the_refit_is_proof_both_ways),
		cmocka_unit_test(test_a_refit_after_which_it_sleeps_again_proves_nothing),
		cmocka_unit_test(test_what_the_pull_itself_woke_was_asleep),
		cmocka_unit_test(test_sleep_right_after_the_deadline_is_no_proof),
		cmocka_unit_test(test_asleep_with_the_part_back_is_no_proof),
		cmocka_unit_test(test_a_refit_is_watched_against_the_time_it_may_take),
		cmocka_unit_test(test_what_is_repeated_is_proof),
		cmocka_unit_test(test_awake_all_the_same_is_unchanged),
		cmocka_unit_test(test_a_minute_is_too_short_to_tell),
		cmocka_unit_test(test_a_door_ends_the_watching),
		cmocka_unit_test(test_frames_that_go_on_show_that_it_was_not_off),
		cmocka_unit_test(test_a_mark_some_seconds_late_is_understood),
		cmocka_unit_test(test_what_vanishes_with_a_fuse_is_listed),
		cmocka_unit_test(test_what_vanishes_with_an_unknown_thing_is_listed),
		cmocka_unit_test(test_a_fuse_of_two_proves_neither_of_them),
		cmocka_unit_test(test_nothing_awake_is_undecided),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
