/* SPDX-License-Identifier: MIT */
/* What was heard, as it stands in the findings: messages, senders, the session. */
#include "scene.h"

#define S 1000
#define MS NOD_NS_PER_MS

static const char map[] = "networks:\n"
			  "  body: { interfaces: [can0], sleeps within: 30 s, quiet time: 3 s }\n"
			  "  drive: { interfaces: [can1], sleeps within: 30 s, quiet time: 3 s }\n"
			  "modules:\n"
			  "  seat unit: { networks: [body], ids: [200, 210] }\n";

static const struct nod_ident_finding *ident(const struct nod_findings *f, uint32_t id)
{
	for (size_t i = 0; i < f->ident_count; i++)
		if (f->idents[i].id == id)
			return &f->idents[i];
	fail_msg("%X is not among the messages", (unsigned)id);
	return NULL;
}

/* By network, then standard IDs, then extended ones, whatever came first. */
static void test_messages_are_in_order(void **state)
{
	(void)state;
	static const uint32_t wanted[] = {0x100, 0x200, NOD_ID_EXTENDED | 0x50, 0x001};
	struct scene s;
	scene_begin(&s, map);
	frame_at(&s, 0, 1, "001#00");
	frame_at(&s, 10, 0, "00000050#00");
	frame_at(&s, 20, 0, "200#00");
	frame_at(&s, 30, 0, "100#00");
	const struct nod_findings *f = found_at(&s, 40);
	assert_int_equal(f->ident_count, 4);
	for (size_t i = 0; i < 4; i++) {
		assert_int_equal(f->idents[i].id, wanted[i]);
		assert_int_equal(f->idents[i].network, i == 3);
	}
	scene_end(&s);
}

static void test_messages_of_a_module_share_its_sender(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, map);
	frame_at(&s, 0, 0, "200#00");
	frame_at(&s, 10, 0, "210#00");
	frame_at(&s, 20, 0, "300#00");
	frame_at(&s, 30, 1, "200#00"); /* the same ID elsewhere is somebody else's */
	const struct nod_findings *f = found_at(&s, 40);
	const struct nod_sender_finding *seat = &f->senders[ident(f, 0x200)->sender];
	assert_ptr_equal(seat, &f->senders[ident(f, 0x210)->sender]);
	assert_int_equal(seat->kind, NOD_SENDER_MODULE);
	assert_string_equal(seat->name, "seat unit");
	const struct nod_sender_finding *other = &f->senders[ident(f, 0x300)->sender];
	assert_int_equal(other->kind, NOD_SENDER_ID);
	assert_int_equal(other->number, 0x300);
	assert_int_equal(other->module, NOD_NONE);
	assert_int_equal(f->senders[f->idents[3].sender].kind, NOD_SENDER_ID);
	assert_int_equal(f->sender_count, 3);
	scene_end(&s);
}

/* Before the deadline and after it; the lock begins the count anew, what was before is use. */
static void test_frames_are_counted_by_phase(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, map);
	PLAY(&s, {0, "100#00", 0, 10 * S, 100});
	mark_at(&s, 10 * S, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 10 * S, 50 * S, 100});
	const struct nod_ident_finding *one = ident(found_at(&s, 50 * S - 100), 0x100);
	assert_int_equal(one->frames, 500);
	assert_int_equal(one->frames_late, 100);
	assert_int_equal(one->first.ns, 0);
	assert_int_equal(one->last.ns, (50 * S - 100) * MS);
	assert_int_equal(one->after.period.ns, 100 * MS);
	assert_int_equal(one->after.rhythm, NOD_RHYTHM_CYCLIC);
	scene_end(&s);
}

/* A counter in the upper half of byte 0, a value in byte 1 that changes once. */
static void test_bits_are_told_apart(void **state)
{
	(void)state;
	char text[24];
	struct scene s;
	scene_begin(&s, map);
	nod_engine_set_lock(s.engine, (nod_time){0}, NOD_LOCK_FROM_OPTION);
	for (int64_t i = 0; i < 600; i++) {
		snprintf(text, sizeof(text), "100#%X0%02X", (unsigned)(i & 15), i < 450 ? 4 : 5);
		frame_at(&s, i * 100, 0, text);
	}
	const struct nod_ident_finding *one = ident(found_at(&s, 60 * S), 0x100);
	assert_int_equal(one->counter_bits, 4);
	assert_int_equal(one->changing_mask, 0x0100);
	assert_int_equal(one->changing_late_mask, 0x0100);
	assert_int_equal(one->changes_late, 1);
	assert_int_equal(one->last_change.ns, 45 * S * MS);
	assert_int_equal(one->live_mask, 0x01F0);
	assert_int_equal(one->length, 2);
	assert_int_equal(one->word >> 8, 5);
	scene_end(&s);
}

static void test_the_session_says_from_where_it_counts(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, map);
	frame_at(&s, 500, 0, "100#00");
	const struct nod_findings *f = found_at(&s, 1 * S);
	assert_int_equal(f->lock_source, NOD_LOCK_FROM_START);
	assert_int_equal(f->lock.ns, 500 * MS);
	assert_string_equal(f->clock_cause, "start of the recording");
	mark_at(&s, 2 * S, NOD_MARK_LOCKED, "");
	f = found_at(&s, 3 * S);
	assert_int_equal(f->lock_source, NOD_LOCK_FROM_JOURNAL);
	assert_string_equal(f->clock_cause, "locked");
	mark_at(&s, 4 * S, NOD_MARK_DOOR, "left");
	f = found_at(&s, 5 * S);
	assert_string_equal(f->clock_cause, "door");
	assert_int_equal(f->clock_from.ns, 4 * S * MS);
	assert_int_equal(f->lock.ns, 2 * S * MS);
	assert_int_equal(f->mark_count, 2);
	assert_string_equal(f->marks[1].subject, "left");
	assert_int_equal(f->end.ns, 5 * S * MS);
	scene_end(&s);
}

static void test_losses_and_errors_are_counted(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, map);
	frame_at(&s, 0, 0, "100#00");
	loss_at(&s, 10, 0);
	frame_at(&s, 20, 1, "100#00");
	const struct nod_findings *f = found_at(&s, 40);
	assert_int_equal(f->frames, 2);
	assert_int_equal(f->lost, 7);
	assert_int_equal(f->networks[0].lost, 7);
	assert_int_equal(f->networks[1].lost, 0);
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_messages_are_in_order),
		cmocka_unit_test(test_messages_of_a_module_share_its_sender),
		cmocka_unit_test(test_frames_are_counted_by_phase),
		cmocka_unit_test(test_bits_are_told_apart),
		cmocka_unit_test(test_the_session_says_from_where_it_counts),
		cmocka_unit_test(test_losses_and_errors_are_counted),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
