/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "faulty-ops.h"
#include "recorder.h"
#include "scratch.h"
#include "session.h"

#define S NOD_NS_PER_S

static struct nod_interfaces names = {2, {"can0", "can1"}};

static struct nod_recorder *start(struct scratch *s, const struct nod_file_ops *ops, int digits)
{
	struct nod_recorder_settings settings = {.directory = s->path,
						 .interfaces = &names,
						 .clock = "kernel",
						 .digits = digits,
						 .ops = ops};
	struct nod_error err = {""};
	struct nod_recorder *recorder = nod_recorder_new(&settings, &err);

	assert_int_equal(recorder == NULL, err.text[0] != '\0');
	return recorder;
}

static int take_frame(struct nod_recorder *recorder, int64_t ns, uint8_t interface, uint32_t id)
{
	struct nod_event event = {.kind = NOD_EVENT_FRAME, .time = {ns}};

	event.frame.time.ns = ns;
	event.frame.interface = interface;
	event.frame.id = id;
	event.frame.length = 2;
	event.frame.data[0] = (uint8_t)ns;
	event.frame.data[1] = (uint8_t)(ns >> 8);
	return nod_recorder_take(recorder, &event);
}

static int take_mark(struct nod_recorder *recorder, int64_t s, enum nod_mark_kind kind,
		     const char *subject)
{
	struct nod_event event = {.kind = NOD_EVENT_MARK, .time = {s * S}};

	event.mark = (struct nod_mark){event.time, kind, subject};
	return nod_recorder_take(recorder, &event);
}

/* What the recording holds, as text, and how much of it. */
struct content {
	char text[16384];
	int frames, marks, samples, defects, torn;
	uint64_t lost;
};

static void add(struct content *c, const char *format, ...)
{
	size_t used = strlen(c->text);
	va_list args;

	va_start(args, format);
	vsnprintf(c->text + used, sizeof(c->text) - used, format, args);
	va_end(args);
}

static void add_event(struct content *c, struct nod_session *session, const struct nod_event *event)
{
	char time[NOD_TIME_TEXT];
	const char *at = nod_time_is_set(event->time) ? nod_time_print(time, event->time, 9) : "-";

	if (event->kind == NOD_EVENT_FRAME) {
		c->frames++;
		if (c->frames < 100)
			add(c, "%s %s %X\n", at,
			    nod_session_interfaces(session)->names[event->frame.interface],
			    event->frame.id);
	} else if (event->kind == NOD_EVENT_MARK) {
		c->marks++;
		add(c, "%s %s %s\n", at, nod_mark_kind_name(event->mark.kind), event->mark.subject);
	} else if (event->kind == NOD_EVENT_CURRENT) {
		c->samples++;
		add(c, "%s %d uA\n", at, (int)event->current.microamps);
	} else if (event->kind == NOD_EVENT_LOSS) {
		c->lost += event->loss.count;
		add(c, "%s lost %d on %s\n", at, (int)event->loss.count,
		    nod_session_interfaces(session)->names[event->loss.interface]);
	} else if (event->kind == NOD_EVENT_HEADER) {
		if (strcmp(event->header.key, "tool") != 0)
			add(c, "%s # %s: %s\n", at, event->header.key, event->header.value);
	} else {
		c->defects++;
	}
}

static void read_back(struct scratch *s, struct content *c)
{
	struct nod_error err = {""};
	struct nod_session *session = nod_session_open(s->path, &err);
	const struct nod_event *event;

	memset(c, 0, sizeof(*c));
	assert_non_null(session);
	while (nod_session_next(session, &event, &err) > 0)
		add_event(c, session, event);
	for (size_t i = 0; i < nod_session_file_count(session); i++)
		c->torn += nod_session_file(session, i)->counts.torn;
	assert_string_equal(err.text, "");
	nod_session_close(session);
}

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

/* Two seconds of a recording; says which entries were acknowledged. */
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

static void test_where_no_session_is(void **state)
{
	(void)state;
	struct scratch nowhere = {.path = "/nowhere"};

	assert_null(start(&nowhere, NULL, 6));
	assert_int_equal(errno, ENOENT);
}

static int set_up(void **state)
{
	static struct scratch scratch;

	scratch_make(&scratch);
	*state = &scratch;
	return 0;
}

static int tear_down(void **state)
{
	scratch_remove(*state);
	return 0;
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)

int main(void)
{
	const struct CMUnitTest tests[] = {
		TEST(test_one_of_each),
		TEST(test_text_is_what_candump_writes),
		TEST(test_silence_is_written),
		TEST(test_killed_at_any_byte),
		TEST(test_pieces),
		TEST(test_what_waits_while_the_disk_is_full),
		TEST(test_full_disk),
		TEST(test_every_failure),
		TEST(test_where_no_session_is),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
