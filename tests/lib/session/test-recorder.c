/* SPDX-License-Identifier: MIT */
#include "recording.h"

static void take_one_of_each(struct nod_recorder *recorder)
{
	struct nod_event event = {.kind = NOD_EVENT_LOSS, .time = {1 * S}};

	assert_int_equal(take_mark(recorder, 0, NOD_MARK_STARTED, ""), 0);
	assert_int_equal(take_frame(recorder, 1 * S + 123456789, 0, 0x123), 0);
	event.loss.interface = 1;
	event.loss.count = 7;
	assert_int_equal(nod_recorder_take(recorder, &event), 0);
	event.loss.interface = NOD_ALL_INTERFACES;
	assert_int_equal(nod_recorder_take(recorder, &event), 0);
	assert_int_equal(take_frame(recorder, 2 * S, 1, NOD_ID_EXTENDED | 0x18FF0010), 0);
	event = (struct nod_event){.kind = NOD_EVENT_GAP, .time = {5 * S}};
	event.gap.interface = 1;
	event.gap.from.ns = 2500 * NOD_NS_PER_MS;
	assert_int_equal(nod_recorder_take(recorder, &event), 0);
	event.gap.interface = NOD_ALL_INTERFACES;
	event.gap.from.ns = 6 * S;
	assert_int_equal(nod_recorder_take(recorder, &event), -EINVAL);
	event = (struct nod_event){.kind = NOD_EVENT_CURRENT, .time = {6 * S}};
	event.current.microamps = 430000;
	assert_int_equal(nod_recorder_take(recorder, &event), 0);
	event = (struct nod_event){.kind = NOD_EVENT_CLOCK, .time = {4 * S}};
	event.clock.step.ns = -2 * S;
	assert_int_equal(nod_recorder_take(recorder, &event), 0);
	assert_int_equal(take_frame(recorder, 7 * S, 0, 0x124), 0);
}

static void test_one_of_each(void **state)
{
	struct scratch *s = *state;
	struct nod_recorder *recorder = start(s, NULL, 9);
	struct nod_recorder_status status;
	struct content c;

	take_one_of_each(recorder);
	assert_int_equal(nod_recorder_flush(recorder, (nod_time){8 * S}), 0);
	nod_recorder_status(recorder, &status);
	assert_int_equal(status.error, 0);
	assert_false(nod_time_is_set(status.failing_since));
	assert_int_equal(status.frames, 3);
	assert_int_equal(status.lost, 0);
	assert_int_equal(status.piece, 1);
	read_back(s, &c); /* while it goes on */
	assert_string_equal(c.text,
			    "- # clock: kernel\n0.000000000 started \n1.123456789 can0 123\n"
			    "1.123456789 lost 7 on can1\n1.123456789 lost 0 on can0\n"
			    "1.123456789 lost 0 on can1\n2.000000000 can1 98FF0010\n"
			    "5.000000000 gap can1 2.5 s\n6.000000000 430000 uA\n"
			    "4.000000000 clock step -2 s\n6.000000000 # clock-step: -2 s\n"
			    "2.000000000 # clock-step: -2 s\n"
			    "7.000000000 can0 124\n");
	assert_int_equal(c.torn + c.defects, 0);
	assert_int_equal(nod_recorder_close(recorder, (nod_time){8 * S}), 0);
}

static void test_text_is_what_candump_writes(void **state)
{
	struct scratch *s = *state;
	struct nod_recorder *recorder = start(s, NULL, 6);
	char command[200], text[400] = "";

	assert_int_equal(take_frame(recorder, 1700000000 * S + 123456789, 0, 0x123), 0);
	assert_int_equal(take_frame(recorder, 1700000001 * S, 1, NOD_ID_EXTENDED | 0x123), 0);
	assert_int_equal(nod_recorder_close(recorder, (nod_time){1700000002 * S}), 0);
	snprintf(command, sizeof(command), "zstdcat %s/frames-000001.log.zst", s->path);
	FILE *pipe = popen(command, "r");
	assert_non_null(pipe);
	assert_true(fread(text, 1, sizeof(text) - 1, pipe) > 0);
	assert_int_equal(pclose(pipe), 0);
	assert_string_equal(text, "# tool: nodoff " NOD_VERSION "\n# clock: kernel\n"
				  "(1700000000.123456) can0 123#15CD\n"
				  "(1700000001.000000) can1 00000123#00CA\n");
}

static void test_silence_is_written(void **state)
{
	struct scratch *s = *state;
	struct nod_recorder *recorder = start(s, NULL, 6);
	struct content c;

	assert_int_equal(take_frame(recorder, 1 * S, 0, 0x123), 0);
	for (int64_t t = 2; t < 6; t++)
		assert_int_equal(nod_recorder_flush(recorder, (nod_time){t * S}), 0);
	read_back(s, &c);
	assert_string_equal(c.text, "- # clock: kernel\n1.000000000 can0 123\n"
				    "1.000000000 # ended: 3.000000\n1.000000000 # ended: 4.000000\n"
				    "1.000000000 # ended: 5.000000\n");
	assert_null(fopen(scratch_path(s, "current.log"), "r")); /* nothing was measured */
	nod_recorder_close(recorder, (nod_time){5 * S});
}

/* Whatever was flushed is there, whatever happens behind it. */
static void test_killed_at_any_byte(void **state)
{
	struct scratch *s = *state;
	struct nod_recorder *recorder = start(s, NULL, 6);
	size_t ends[11], length;

	for (int i = 0; i <= 10; i++) {
		struct nod_recorder_status status;
		assert_int_equal(nod_recorder_flush(recorder, (nod_time){i * S}), 0);
		nod_recorder_status(recorder, &status);
		ends[i] = (size_t)status.bytes;
		take_frame(recorder, i * S + S / 2, 0, 0x100);
	}
	char *whole = scratch_read(s, "frames-000001.log.zst", &length);
	assert_int_equal(length, ends[10]);
	for (size_t cut = 0; cut <= length; cut++) {
		struct content c;
		int flushed = 0;
		scratch_write(s, "frames-000001.log.zst", whole, cut);
		read_back(s, &c);
		while (flushed < 10 && ends[flushed + 1] <= cut)
			flushed++;
		assert_true(c.frames >= flushed);
	}
	free(whole);
	nod_recorder_close(recorder, (nod_time){11 * S});
}

static void test_pieces(void **state)
{
	struct scratch *s = *state;
	struct nod_recorder_settings settings = {
		.directory = s->path, .interfaces = &names, .digits = 6, .piece_bytes = 1000};
	struct nod_recorder_status status;
	struct content c;

	settings.piece_time = nod_seconds(100);
	struct nod_recorder *recorder = nod_recorder_new(&settings, NULL);
	for (int i = 0; i < 50; i++) { /* an hour of silence, one piece per 100 s */
		take_frame(recorder, i * 36 * S, 0, 0x100);
		assert_int_equal(nod_recorder_flush(recorder, (nod_time){i * 36 * S}), 0);
	}
	nod_recorder_status(recorder, &status);
	unsigned by_time = status.piece;
	assert_in_range(by_time, 12, 18);
	for (int i = 0; i < 2000; i++)
		take_frame(recorder, 1800 * S + i * 7919, 0, (uint32_t)i & 0x7FF);
	for (int i = 0; i < 3; i++) {
		assert_int_equal(nod_recorder_flush(recorder, (nod_time){1801 * S}), 0);
		take_frame(recorder, 1801 * S + i, 0, 0x100);
	}
	nod_recorder_close(recorder, (nod_time){1802 * S});
	read_back(s, &c);
	assert_int_equal(c.frames, 2053);
	assert_int_equal(c.torn + c.defects, 0);

	/* a later recording into the same session goes on behind it */
	recorder = nod_recorder_new(&settings, NULL);
	struct nod_recorder_status again;
	nod_recorder_status(recorder, &again);
	assert_true(again.piece > by_time);
	take_frame(recorder, 2000 * S, 0, 0x100);
	nod_recorder_close(recorder, (nod_time){2001 * S});
	read_back(s, &c);
	assert_int_equal(c.frames, 2054);
}

static void test_where_no_session_is(void **state)
{
	(void)state;
	struct scratch nowhere = {.path = "/nowhere"};

	assert_null(start(&nowhere, NULL, 6));
	assert_int_equal(errno, ENOENT);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		SCRATCH_TEST(test_one_of_each),
		SCRATCH_TEST(test_text_is_what_candump_writes),
		SCRATCH_TEST(test_silence_is_written),
		SCRATCH_TEST(test_killed_at_any_byte),
		SCRATCH_TEST(test_pieces),
		SCRATCH_TEST(test_where_no_session_is),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
