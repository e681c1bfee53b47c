/* SPDX-License-Identifier: MIT */
#include "scene.h"

#include "engine-internal.h"
#include "snapshot.h"

static const char body[] = "networks:\n"
			   "  body: { interfaces: [can0] }\n"
			   "  drive: { interfaces: [can1] }\n";

static void test_an_isolation_keeps_how_far_each_message_had_come(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, body);
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, 1000, 100}, {0, "200#00", 10, 1000, 500});
	mark_at(&s, 1000, NOD_MARK_ISOLATED, "F1");
	PLAY(&s, {0, "100#00", 1000, 2000, 100}, {0, "300#00", 1010, 2000, 100});
	mark_at(&s, 2000, NOD_MARK_REFITTED, "F1");
	assert_int_equal(s.engine->snapshot_count, 2);
	const struct nod_snapshot *before = &s.engine->snapshots[0], *after = before + 1;
	assert_int_equal(before->mark, 1);
	assert_int_equal(after->mark, 2);
	assert_int_equal(before->counts[0], 2);
	assert_int_equal(before->idents[0][0].frames, 10);
	assert_int_equal(before->idents[0][1].frames, 2);
	assert_int_equal(after->counts[0], 3); /* one more was heard since */
	assert_int_equal(after->idents[0][0].frames, 20);
	assert_int_equal(before->idents[0][0].held.last.ns, 900 * NOD_NS_PER_MS);
	scene_end(&s);
}

static void test_networks_nothing_was_heard_of_are_empty(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, body);
	frame_at(&s, 0, 1, "100#00");
	mark_at(&s, 1000, NOD_MARK_ISOLATED, "F1");
	const struct nod_snapshot *snapshot = &s.engine->snapshots[0];
	assert_true(snapshot->tracks >= 2);
	assert_int_equal(snapshot->counts[0], 0);
	assert_int_equal(snapshot->serials[0], 0);
	assert_int_equal(snapshot->counts[1], 1);
	scene_end(&s);
}

static void test_other_marks_take_none(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, body);
	frame_at(&s, 0, 0, "100#00");
	mark_at(&s, 1000, NOD_MARK_DOOR, "left");
	mark_at(&s, 2000, NOD_MARK_NOTE, "isolated nothing");
	assert_int_equal(s.engine->snapshot_count, 0);
	scene_end(&s);
}

static void test_their_number_is_bounded_and_the_session_goes_on(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, body);
	frame_at(&s, 0, 0, "100#00");
	for (int i = 0; i < NOD_SNAPSHOTS_MAX + 20; i++) {
		struct nod_event e = {.kind = NOD_EVENT_MARK, .time = {i * NOD_NS_PER_S}};
		e.mark = (struct nod_mark){e.time, NOD_MARK_ISOLATED, "F1"};
		(void)nod_engine_take(s.engine, &e);
	}
	assert_int_equal(s.engine->snapshot_count, NOD_SNAPSHOTS_MAX);
	assert_int_equal(found_at(&s, 1000000)->mark_count, NOD_SNAPSHOTS_MAX + 20);
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_an_isolation_keeps_how_far_each_message_had_come),
		cmocka_unit_test(test_networks_nothing_was_heard_of_are_empty),
		cmocka_unit_test(test_other_marks_take_none),
		cmocka_unit_test(test_their_number_is_bounded_and_the_session_goes_on),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
