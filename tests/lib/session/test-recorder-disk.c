/* SPDX-License-Identifier: MIT */
/* Disks that are full for a while, and calls that fail: what is kept, and what is said. */
#include "recording.h"

/* The disk is full for a while, and much more comes than memory holds. */
static void test_full_disk(void **state)
{
	struct scratch *s = *state;
	struct nod_recorder_status status;
	struct faulty faulty;
	struct content c;
	int sent = 0, refused = 0;

	faulty_init(&faulty, 0, ENOSPC, 0);
	struct nod_recorder *recorder = start(s, &faulty.ops, 6);
	for (int i = 0; i < 100; i++, sent++)
		take_frame(recorder, sent * NOD_NS_PER_MS, 0, 0x100);
	assert_int_equal(nod_recorder_flush(recorder, (nod_time){sent * NOD_NS_PER_MS}), 0);
	faulty.tear = 1;
	faulty.fail_at = faulty.calls + 1;
	faulty.fail_to = INT32_MAX;
	for (int i = 0; i < 10000; i++, sent++)
		refused += take_frame(recorder, sent * NOD_NS_PER_MS, sent & 1, 0x100) == -ENOSPC;
	assert_in_range(refused, 1, 9000);
	assert_int_equal(take_mark(recorder, 9, NOD_MARK_DOOR, ""), -ENOSPC);
	assert_int_equal(nod_recorder_flush(recorder, (nod_time){sent * NOD_NS_PER_MS}), -ENOSPC);
	nod_recorder_status(recorder, &status);
	assert_int_equal(status.error, -ENOSPC);
	assert_true(nod_time_is_set(status.failing_since));
	assert_int_equal(status.lost, refused);
	read_back(s, &c);
	assert_int_equal(c.frames, 100);

	faulty.fail_to = 0; /* there is room again */
	assert_int_equal(nod_recorder_flush(recorder, (nod_time){sent * NOD_NS_PER_MS}), 0);
	nod_recorder_status(recorder, &status);
	assert_int_equal(status.error, 0);
	for (int i = 0; i < 100; i++, sent++)
		assert_int_equal(take_frame(recorder, sent * NOD_NS_PER_MS, 0, 0x100), 0);
	assert_int_equal(nod_recorder_close(recorder, (nod_time){sent * NOD_NS_PER_MS}), 0);
	read_back(s, &c);
	assert_int_equal(c.frames + refused, sent);
	assert_int_equal(c.lost, refused);
	assert_int_equal(c.defects, 0);
	assert_int_equal(c.marks, 1);
	assert_non_null(strstr(c.text, "gap all "));
	assert_null(strstr(c.text, "door"));
	assert_int_equal(faulty.open_files, 0);
}

static int take_sample(struct nod_recorder *recorder, int64_t ms)
{
	struct nod_event event = {.kind = NOD_EVENT_CURRENT, .time = {ms * NOD_NS_PER_MS}};

	event.current.microamps = ms;
	return nod_recorder_take(recorder, &event);
}

/* What the daemon itself has to say waits for room, each in its order and once; samples are
 * kept as far as there is room, and the others counted. */
static void test_what_waits_while_the_disk_is_full(void **state)
{
	struct scratch *s = *state;
	struct nod_recorder_status status;
	struct faulty faulty;
	struct content c;
	int refused = 0;

	faulty_init(&faulty, 0, ENOSPC, 0);
	struct nod_recorder *recorder = start(s, &faulty.ops, 6);
	take_frame(recorder, 1 * S, 0, 0x100);
	assert_int_equal(take_sample(recorder, 1000), 0);
	assert_int_equal(nod_recorder_flush(recorder, (nod_time){2 * S}), 0);
	faulty.fail_at = faulty.calls + 1;
	faulty.fail_to = INT32_MAX;
	assert_int_equal(nod_recorder_flush(recorder, (nod_time){3 * S}), -ENOSPC);
	assert_int_equal(take_mark(recorder, 4, NOD_MARK_DEAF, "can1"), -ENOSPC);
	assert_int_equal(take_mark(recorder, 5, NOD_MARK_GAP, "can1 1 s"), -ENOSPC);
	assert_int_equal(take_mark(recorder, 5, NOD_MARK_DOOR, ""), -ENOSPC);
	assert_int_equal(take_mark(recorder, 65, NOD_MARK_CLOCK_STEP, "+60 s"), -ENOSPC);
	for (int i = 0; i < 4000; i++)
		refused += take_sample(recorder, 66000 + i) != 0;
	assert_in_range(refused, 1, 3900);
	nod_recorder_status(recorder, &status);
	assert_int_equal(status.samples_lost, refused);

	faulty.fail_to = 0;
	assert_int_equal(nod_recorder_flush(recorder, (nod_time){70 * S}), 0);
	assert_int_equal(take_sample(recorder, 71000), 0);
	assert_int_equal(nod_recorder_close(recorder, (nod_time){72 * S}), 0);
	read_back(s, &c);
	assert_int_equal(c.samples, 1 + 4000 - refused + 1);
	assert_int_equal(c.marks, 3);
	const char *deaf = strstr(c.text, "not listening can1"),
		   *gap = strstr(c.text, "gap can1 1 s"),
		   *step = strstr(c.text, "clock step +60 s");
	assert_true(deaf && gap && step && deaf < gap && gap < step);
}

/* Two seconds of a recording; says which marks were acknowledged. */
static int record_two_seconds(struct nod_recorder *recorder)
{
	int acknowledged = 0;

	take_frame(recorder, 1 * S, 0, 0x101);
	acknowledged += take_mark(recorder, 1, NOD_MARK_LOCKED, "") == 0;
	nod_recorder_flush(recorder, (nod_time){2 * S});
	take_frame(recorder, 2 * S, 0, 0x102);
	struct nod_event event = {.kind = NOD_EVENT_CURRENT, .time = {2 * S}};
	nod_recorder_take(recorder, &event);
	acknowledged += take_mark(recorder, 2, NOD_MARK_DOOR, "") == 0;
	nod_recorder_flush(recorder, (nod_time){3 * S});
	take_frame(recorder, 3 * S, 0, 0x103);
	nod_recorder_flush(recorder, (nod_time){4 * S});
	return acknowledged;
}

static void check_one_failure(struct scratch *s, long at, int tear, long *calls)
{
	struct faulty faulty;
	struct content c;

	faulty_init(&faulty, at, EIO, tear);
	struct nod_recorder *recorder = start(s, &faulty.ops, 6);
	if (recorder) {
		int acknowledged = record_two_seconds(recorder);
		long before = faulty.calls;
		int result = nod_recorder_close(recorder, (nod_time){5 * S});
		assert_true(!result || before < at);
		read_back(s, &c);
		assert_int_equal(c.frames, 3);
		assert_int_equal(c.marks, acknowledged);
		assert_int_equal(c.samples, 1);
		assert_int_equal(c.defects, 0);
		assert_true(acknowledged >= 1);
	}
	*calls = faulty.calls;
	assert_int_equal(faulty.open_files, 0);
}

static void test_every_failure(void **state)
{
	struct scratch *s = *state;
	long calls = 0, most = 0;

	for (int tear = 0; tear < 2; tear++)
		for (long at = 1; at == 1 || calls >= at - 1; at++) {
			check_one_failure(s, at, tear, &calls);
			most = calls > most ? calls : most;
			scratch_remove(s);
			scratch_make(s);
		}
	assert_true(most > 20);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		SCRATCH_TEST(test_what_waits_while_the_disk_is_full),
		SCRATCH_TEST(test_full_disk),
		SCRATCH_TEST(test_every_failure),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
