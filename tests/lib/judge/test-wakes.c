/* SPDX-License-Identifier: MIT */
#include "scene.h"

#define MIN (60 * 1000)
#define MS NOD_NS_PER_MS

static const char two[] =
	"networks:\n"
	"  body: { interfaces: [can0], bitrate: 500000, sleeps within: 10 min, quiet time: 3 s, "
	"management: { scheme: none } }\n"
	"  drive: { interfaces: [can1], bitrate: 500000, sleeps within: 10 min, quiet time: 3 s, "
	"management: { scheme: none } }\n"
	"modules:\n"
	"  door unit: { networks: [body], ids: [300, 301] }\n"
	"  seat unit: { networks: [body], ids: [200] }\n"
	"  engine unit: { networks: [drive], ids: [100] }\n";

/* Both networks sleep after a minute. */
static void begin(struct scene *s)
{
	scene_begin(s, two);
	mark_at(s, 0, NOD_MARK_STARTED, "");
	mark_at(s, 0, NOD_MARK_LOCKED, "");
	PLAY(s, {0, "200#00", 0, MIN, 100}, {1, "100#00", 10, MIN, 100});
}

static void test_two_networks_that_wake_together_are_one_story(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "300#00", 20 * MIN, 20 * MIN + 10000, 100},
	     {1, "100#00", 20 * MIN + 400, 20 * MIN + 30000, 100});
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_int_equal(f->wake_count, 1);
	assert_int_equal(f->wakes[0].networks_woken, 2);
	assert_string_equal(f->networks[f->wakes[0].network].name, "body");
	assert_string_equal(f->senders[f->wakes[0].sender].name, "door unit");
	assert_int_equal(f->idents[f->wakes[0].ident].id, 0x300);
	assert_int_equal(f->wakes[0].awake_for.ns, (30000 - 100 + 400 - 400) * MS);
	assert_int_equal(f->networks[0].wakes, 1);
	assert_int_equal(f->networks[1].wakes, 1);
	scene_end(&s);
}

static void test_minutes_apart_are_two_stories(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "300#00", 20 * MIN, 20 * MIN + 10000, 100});
	PLAY(&s, {1, "100#00", 22 * MIN, 22 * MIN + 10000, 100});
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_int_equal(f->wake_count, 2);
	assert_string_equal(f->senders[f->wakes[1].sender].name, "engine unit");
	assert_string_equal(f->networks[f->wakes[0].network].name, "body");
	assert_string_equal(f->networks[f->wakes[1].network].name, "drive");
	scene_end(&s);
}

/* The lead is over the second sender, anywhere; its own other message is none. */
static void test_the_lead_is_over_the_second_sender(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	frame_at(&s, 20 * MIN, 0, "300#00");
	frame_at(&s, 20 * MIN + 20, 0, "301#00");
	frame_at(&s, 20 * MIN + 70, 1, "100#00");
	frame_at(&s, 20 * MIN + 90, 0, "200#00");
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_int_equal(f->wakes[0].lead.ns, 70 * MS);
	scene_end(&s);
}

static void test_who_speaks_alone_has_no_second(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "300#00", 20 * MIN, 20 * MIN + 3000, 100},
	     {0, "301#00", 20 * MIN + 5, 20 * MIN + 3000, 100});
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_int_equal(f->wake_count, 1);
	assert_int_equal(f->wakes[0].lead.ns, NOD_DURATION_NONE.ns);
	scene_end(&s);
}

/* A person notes a door some seconds before or after it was opened. */
static void test_what_the_journal_explains_is_nobodys_fault(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	PLAY(&s, {0, "300#00", 20 * MIN, 20 * MIN + 10000, 100});
	mark_at(&s, 20 * MIN + 12000, NOD_MARK_DOOR, "left");
	PLAY(&s, {0, "300#00", 50 * MIN, 50 * MIN + 10000, 100});
	const struct nod_findings *f = found_at(&s, 70 * MIN);
	assert_int_equal(f->wake_count, 2);
	assert_string_equal(f->wakes[0].cause, "door left");
	assert_string_equal(f->wakes[1].cause, "");
	assert_int_equal(f->networks[0].wakes_explained, 1);
	assert_int_equal(f->networks[0].wakes, 1);
	scene_end(&s);
}

static void test_a_note_explains_nothing(void **state)
{
	(void)state;
	struct scene s;
	begin(&s);
	mark_at(&s, 20 * MIN - 2000, NOD_MARK_NOTE, "dog barks");
	PLAY(&s, {0, "300#00", 20 * MIN, 20 * MIN + 10000, 100});
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_string_equal(f->wakes[0].cause, "");
	scene_end(&s);
}

/* What wakes before the lock is use. */
static void test_before_the_lock_nothing_is_a_wakeup(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, two);
	PLAY(&s, {0, "200#00", 0, 5000, 100});
	PLAY(&s, {0, "200#00", 20000, 25000, 100});
	mark_at(&s, 26000, NOD_MARK_LOCKED, "");
	assert_int_equal(found_at(&s, 5 * MIN)->wake_count, 0);
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_two_networks_that_wake_together_are_one_story),
		cmocka_unit_test(test_minutes_apart_are_two_stories),
		cmocka_unit_test(test_the_lead_is_over_the_second_sender),
		cmocka_unit_test(test_who_speaks_alone_has_no_second),
		cmocka_unit_test(test_what_the_journal_explains_is_nobodys_fault),
		cmocka_unit_test(test_a_note_explains_nothing),
		cmocka_unit_test(test_before_the_lock_nothing_is_a_wakeup),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
