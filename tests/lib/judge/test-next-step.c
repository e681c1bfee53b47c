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
	"  door unit: { ids: [300], fuses: [F3] }\n"
	"fuses: { F1: { rating: 10 A }, F2: { rating: 15 A }, F3: { rating: 5 A } }\n";

/* All talk for 20 min, when F2 is pulled; the others go on until `until`, and end one after the
 * other as those do that fall asleep. */
static const struct nod_findings *pulled(struct scene *s, int64_t until, int64_t end)
{
	scene_begin(s, body);
	mark_at(s, 0, NOD_MARK_LOCKED, "");
	PLAY(s, {0, "100#00", 0, 20 * MIN, 100}, {0, "200#00", 10, 20 * MIN, 200},
	     {0, "201#00", 15, 20 * MIN, 500}, {0, "300#00", 20, 20 * MIN, 100});
	mark_at(s, 20 * MIN, NOD_MARK_ISOLATED, "F2");
	PLAY(s, {0, "100#00", 20 * MIN, until, 100}, {0, "300#00", 20 * MIN, until - 3000, 100});
	return found_at(s, end);
}

/* Past the deadline, and as long again as silence must last to be sleep. */
static void test_it_is_told_how_long_to_record_on(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, body);
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, 5 * MIN, 100});
	assert_int_equal(found_at(&s, 5 * MIN - 100)->record_longer.ns,
			 (5 * MIN + 100 + 3000) * MS);
	assert_int_equal(found_at(&s, 30 * MIN)->record_longer.ns, NOD_DURATION_NONE.ns);
	scene_end(&s);
}

/* With a fuse out the next step is to wait, not to pull it again. */
static void test_what_is_out_is_waited_for(void **state)
{
	(void)state;
	struct scene s;
	const struct nod_findings *f = pulled(&s, 21 * MIN, 21 * MIN - 50);
	assert_non_null(strstr(f->next, "F2 is out since"));
	assert_non_null(strstr(f->next, "wait until"));
	assert_null(strstr(f->next, "Isolate"));
	for (size_t i = 0; i < f->proposal_count; i++)
		assert_null(strstr(f->proposals[i].what, "F2"));
	scene_end(&s);
}

/* ... and when that has told enough it is put back before the next one. */
static void test_what_changed_nothing_is_put_back_first(void **state)
{
	(void)state;
	struct scene s;
	const struct nod_findings *f = pulled(&s, 26 * MIN, 26 * MIN - 50);
	assert_int_equal(strncmp(f->next, "Put F2 back and mark it. Isolate", 32), 0);
	scene_end(&s);
}

static void test_asleep_it_is_left_out_until_that_is_proof(void **state)
{
	(void)state;
	struct scene s;
	const struct nod_findings *f = pulled(&s, 20 * MIN + 5000, 24 * MIN);
	assert_non_null(strstr(f->next, "leave it out"));
	assert_non_null(strstr(f->next, "proof"));
	scene_end(&s);
	f = pulled(&s, 20 * MIN + 5000, 31 * MIN);
	assert_non_null(strstr(f->next, "Repair seat unit"));
	scene_end(&s);
}

/* Slept, but as late as it may have by itself: the other direction has to tell. */
static void test_asleep_by_chance_it_is_put_back(void **state)
{
	(void)state;
	struct scene s;
	const struct nod_findings *f = pulled(&s, 24 * MIN, 32 * MIN);
	assert_int_equal(f->isolations[0].result, NOD_ISOLATION_SLEPT);
	assert_int_equal(strncmp(f->next, "Put F2 back, mark it", 20), 0);
	scene_end(&s);
}

/* ... and then it takes as long as the car may take to fall asleep. */
static void test_back_again_it_is_watched(void **state)
{
	(void)state;
	struct scene s;
	pulled(&s, 24 * MIN, 32 * MIN);
	mark_at(&s, 32 * MIN, NOD_MARK_REFITTED, "F2");
	/* a wake-up: one speaks first, the others after it */
	PLAY(&s, {0, "200#00", 32 * MIN + 50, 33 * MIN, 200},
	     {0, "100#00", 32 * MIN + 900, 33 * MIN, 100},
	     {0, "300#00", 32 * MIN + 1700, 33 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 33 * MIN);
	assert_int_equal(strncmp(f->next, "F2 is back since", 16), 0);
	assert_non_null(strstr(f->next, "touch nothing"));
	scene_end(&s);
}

/* Nothing can be told of a holder while all sleep. */
static void test_a_car_that_sleeps_by_now_is_locked_anew(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, body);
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, 2 * MIN, 100}, {0, "200#00", 10, 20 * MIN, 200});
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_int_equal(f->verdict, NOD_VERDICT_KEPT_AWAKE);
	assert_int_equal(strncmp(f->next, "It sleeps now", 13), 0);
	assert_non_null(strstr(f->next, "Isolate fuse F2"));
	scene_end(&s);
}

/* Before the deadline nobody is named, whoever asks for the network. */
static void test_before_the_deadline_there_is_no_culprit(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, body);
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, MIN, 100}, {0, "200#00", 10, 9 * MIN, 200});
	const struct nod_findings *f = found_at(&s, 9 * MIN - 100);
	assert_int_equal(f->verdict, NOD_VERDICT_CANNOT_TELL);
	assert_int_equal(f->culprit, NOD_NONE);
	assert_non_null(strstr(f->next, "Leave the car locked"));
	scene_end(&s);
}

/* Nobody said that it is locked, and so short a recording does not tell. */
static void test_who_may_be_driving_is_not_told_to_leave_it_locked(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, body);
	PLAY(&s, {0, "100#00", 0, 15000, 100}, {0, "200#00", 10, 15000, 200});
	const struct nod_findings *f = found_at(&s, 15000);
	assert_int_equal(f->verdict, NOD_VERDICT_CANNOT_TELL);
	assert_null(strstr(f->next, "Leave the car locked"));
	assert_non_null(strstr(f->next, "If not, lock it"));
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_it_is_told_how_long_to_record_on),
		cmocka_unit_test(test_what_is_out_is_waited_for),
		cmocka_unit_test(test_what_changed_nothing_is_put_back_first),
		cmocka_unit_test(test_asleep_it_is_left_out_until_that_is_proof),
		cmocka_unit_test(test_asleep_by_chance_it_is_put_back),
		cmocka_unit_test(test_back_again_it_is_watched),
		cmocka_unit_test(test_a_car_that_sleeps_by_now_is_locked_anew),
		cmocka_unit_test(test_before_the_deadline_there_is_no_culprit),
		cmocka_unit_test(test_who_may_be_driving_is_not_told_to_leave_it_locked),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
