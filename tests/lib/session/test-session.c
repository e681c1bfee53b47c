/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <zstd.h>

#include "scratch.h"
#include "session.h"

/* What a session delivers, as text: one line an event. */
struct transcript {
	char text[8192];
	size_t length;
	int frames, marks, samples, defects;
};

static void put(struct transcript *t, const char *what, nod_time time, const char *rest)
{
	char at[NOD_TIME_TEXT] = "-";

	if (nod_time_is_set(time))
		nod_time_print(at, time, 0);
	t->length += (size_t)snprintf(t->text + t->length, sizeof(t->text) - t->length,
				      "%s %s%s%s\n", at, what, *rest ? " " : "", rest);
	assert_true(t->length < sizeof(t->text));
}

static void put_event(struct transcript *t, const struct nod_event *event)
{
	char rest[700] = "";

	switch (event->kind) {
	case NOD_EVENT_FRAME:
		nod_id_print(rest, event->frame.id);
		t->frames++;
		put(t, "frame", event->time, rest);
		break;
	case NOD_EVENT_MARK:
		t->marks++;
		put(t, nod_mark_kind_name(event->mark.kind), event->time, event->mark.subject);
		break;
	case NOD_EVENT_CURRENT:
		t->samples++;
		put(t, "current", event->time, "");
		break;
	case NOD_EVENT_DEFECT:
		snprintf(rest, sizeof(rest), "%s:%d:%u %s", strrchr(event->defect.file, '/') + 1,
			 (int)event->defect.line, event->defect.column, event->defect.reason);
		t->defects++;
		put(t, "defect", event->time, rest);
		break;
	case NOD_EVENT_HEADER:
		put(t, "header", event->time, event->header.key);
		break;
	case NOD_EVENT_LOSS:
		put(t, "loss", event->time, "");
		break;
	default:
		fail();
	}
}

static void read_all(struct nod_session *session, struct transcript *t)
{
	const struct nod_event *event;
	struct nod_error err = {""};
	int result;

	memset(t, 0, sizeof(*t));
	while ((result = nod_session_next(session, &event, &err)) > 0)
		put_event(t, event);
	assert_int_equal(result, 0);
	assert_int_equal(nod_session_next(session, &event, &err), 0);
}

static void check(struct scratch *s, const char *name, const char *expected)
{
	struct nod_error err = {""};
	struct transcript t;
	struct nod_session *session = nod_session_open(scratch_path(s, name), &err);

	assert_string_equal(err.text, "");
	assert_non_null(session);
	read_all(session, &t);
	assert_string_equal(t.text, expected);
	nod_session_close(session);
}

static void write_zstd(struct scratch *s, const char *name, const char *text, size_t cut)
{
	char packed[4096];
	size_t length = ZSTD_compress(packed, sizeof(packed), text, strlen(text), 1);

	assert_false(ZSTD_isError(length));
	scratch_write(s, name, packed, length - cut);
}

static void test_everything_in_the_order_of_time(void **state)
{
	struct scratch *s = *state;

	scratch_puts(
		s, "frames.log",
		"# locked: 2.0\n(1.000000) can0 101#\n(2.000000) can0 102#\n(4.000000) can0 104#\n");
	scratch_puts(s, "journal.log", "(3.0) isolated F12\n(2.0) locked\n(9.0) stopped\n");
	scratch_puts(s, "current.log", "(2.0) 1 A\n(3.5) 2 A\n");
	check(s, "",
	      "- header locked\n1 frame 101\n2 locked\n2 current\n2 frame 102\n3 isolated F12\n"
	      "3 current\n4 frame 104\n9 stopped\n");
}

static void test_what_was_taken_back(void **state)
{
	struct scratch *s = *state;

	scratch_puts(s, "frames.log", "(1.000000) can0 101#\n(9.000000) can0 109#\n");
	scratch_puts(s, "journal.log",
		     "(2.0) isolated F2\n(2.5) isolated F12\n(2.5) isolated F12\n"
		     "(3.0) undone (2.000000) isolated F2\n" /* with another number of digits */
		     "(3.5) undone (2.5) isolated F12\n"     /* one of the two */
		     "(4.0) undone (7.0) locked\n" /* comes before what it names: nothing */
		     "(4.5) undone what never was\n(7.0) locked\n");
	check(s, "", "1 frame 101\n2 isolated F12\n7 locked\n9 frame 109\n");
}

static void test_pieces_follow_and_streams_are_merged(void **state)
{
	struct scratch *s = *state;

	scratch_puts(s, "frames-000002.log", "(3.000000) can0 103#\n");
	write_zstd(s, "frames-000010.log.zst",
		   "DROPCOUNT: dropped 3 CAN frames on 'can0' socket (total drops 3)\n"
		   "(5.000000) can0 105#\n",
		   0);
	scratch_puts(s, "frames-1.log", "(1.000000) can0 101#\n");
	scratch_puts(s, "frames-b-1.log", "(2.000000) can1 202#\n(4.000000) can1 204#\n");
	scratch_puts(s, "frames-b-1.log~", "(2.500000) can1 2FF#\n");
	scratch_puts(s, "framesets.txt", "not ours\n");
	check(s, "", "1 frame 101\n2 frame 202\n3 frame 103\n3 loss\n4 frame 204\n5 frame 105\n");
}

static void test_damaged_pieces_are_told_and_passed(void **state)
{
	struct scratch *s = *state;
	struct nod_error err = {""};
	struct transcript t;

	scratch_puts(s, "frames-1.log", "(1.000000) can0 101#\n(1.500000) can0 rubbish\n");
	scratch_puts(s, "frames-2.log",
		     "\x7f"
		     "ELF is no capture\n");
	scratch_puts(s, "frames-3.log.zst", "");
	write_zstd(s, "frames-4.log.zst", "(4.000000) can0 104#\n", 3);
	scratch_puts(s, "frames-5.log", "(5.000000) can0 105#\n(0.500000) can0 10");
	struct nod_session *session = nod_session_open(s->path, &err);
	read_all(session, &t);
	assert_int_equal(t.frames, 2);
	assert_int_equal(t.defects, 4);
	assert_non_null(strstr(t.text, "1 defect frames-1.log:2:"));
	assert_non_null(strstr(t.text, "1 defect frames-2.log:1:0 "));
	assert_non_null(strstr(t.text, "5 defect frames-5.log:2:"));
	assert_null(strstr(t.text, s->path)); /* the place is not said twice */
	assert_int_equal(nod_session_file_count(session), 5);
	assert_null(nod_session_file(session, 0)->fault);
	assert_int_equal(nod_session_file(session, 0)->counts.defects, 1);
	assert_non_null(nod_session_file(session, 1)->fault);
	assert_int_equal(nod_session_file(session, 1)->counts.defects, 1);
	assert_true(nod_session_file(session, 3)->counts.torn);
	assert_non_null(strstr(nod_session_file(session, 4)->fault, "cut off"));
	assert_string_equal(nod_session_file(session, 3)->form, "candump log, zstd");
	nod_session_close(session);
}

/* The journal seemed to have ended when the first frame was read. */
static void test_a_header_after_frames_is_an_entry_too(void **state)
{
	struct scratch *s = *state;

	scratch_puts(s, "late.log",
		     "(1.000000) can0 101#\n(2.000000) can0 102#\n# isolated: 2.5 F12\n"
		     "(4.000000) can0 104#\n");
	check(s, "late.log",
	      "1 frame 101\n2 frame 102\n2 header isolated\n2 isolated F12\n4 frame 104\n");
}

static void test_headers_of_a_bare_capture_are_its_journal(void **state)
{
	struct scratch *s = *state;

	scratch_puts(
		s, "car.log",
		"# isolated: 3.5 F12\n# tester-on: 2.5\n# note: not timed\n(1.000000) can0 101#\n"
		"(3.000000) can0 103#\n# door: 2.0 left\n(4.000000) can0 104#\n");
	check(s, "car.log",
	      "- header isolated\n- header tester-on\n- header note\n1 frame 101\n2 tester on\n"
	      "3 frame 103\n2 door left\n3 header door\n3 isolated F12\n4 frame 104\n");
}

static void check_lock(struct scratch *s, const char *name, int64_t seconds,
		       enum nod_lock_source source, int64_t start)
{
	struct nod_session_lock lock;
	struct nod_error err;

	assert_int_equal(nod_session_find_lock(scratch_path(s, name), &lock, &err), 0);
	assert_int_equal(lock.time.ns, seconds * NOD_NS_PER_S);
	assert_int_equal(lock.source, source);
	assert_int_equal(lock.start.ns, start * NOD_NS_PER_S);
}

static void test_which_lock_time(void **state)
{
	struct scratch *s = *state;

	scratch_puts(s, "bare.log", "(7.000000) can0 101#\n");
	check_lock(s, "bare.log", 7, NOD_LOCK_FROM_START, 7);
	scratch_puts(s, "head.log", "# locked: 8.0\n(7.000000) can0 101#\n");
	check_lock(s, "head.log", 8, NOD_LOCK_FROM_HEADER, 7);
	mkdir(scratch_path(s, "dir"), 0700);
	scratch_puts(s, "dir/frames.log", "# locked: 8.0\n(7.000000) can0 101#\n");
	check_lock(s, "dir", 8, NOD_LOCK_FROM_HEADER, 7);
	scratch_puts(s, "dir/journal.log", "(6.0) started\n(9.0) locked\n(5.0) locked\n");
	check_lock(s, "dir", 9, NOD_LOCK_FROM_JOURNAL, 6);
	for (int i = NOD_LOCK_FROM_START; i <= NOD_LOCK_FROM_OPTION; i++)
		assert_true(strlen(nod_session_lock_text((enum nod_lock_source)i)) > 10);
}

static void test_several_captures(void **state)
{
	struct scratch *s = *state;
	struct transcript t;
	struct nod_error err = {""};
	char other[600];

	scratch_puts(s, "b.log", "(2.000000) can1 202#\n");
	strcpy(other, s->file);
	scratch_puts(s, "a.log", "(1.000000) can0 101#\n(3.000000) can0 103#\n");
	const char *paths[] = {s->file, other};
	struct nod_session *session = nod_session_open_all(paths, 2, &err);
	read_all(session, &t);
	assert_string_equal(t.text, "1 frame 101\n2 frame 202\n3 frame 103\n");
	assert_int_equal(nod_session_interfaces(session)->count, 2);
	nod_session_close(session);
	paths[1] = s->path;
	assert_null(nod_session_open_all(paths, 2, &err));
	assert_non_null(strstr(err.text, "alone"));
}

static void check_refused(const char *path, int code, const char *why)
{
	struct nod_error err = {""};

	assert_null(nod_session_open(path, &err));
	assert_int_equal(errno, code);
	assert_non_null(strstr(err.text, why));
}

static void test_refusals(void **state)
{
	struct scratch *s = *state;

	check_refused(s->path, EINVAL, "is no session");
	check_refused(scratch_path(s, "none"), ENOENT, "none");
	scratch_puts(s, "text", "dear diary\nno capture\n");
	check_refused(scratch_path(s, "text"), EINVAL, "text");
	scratch_puts(s, "session.txt", "nodoff session: 2\n");
	check_refused(s->path, EINVAL, "form 2");
}

/* The clock is set back by 60 s at 200 (to 140); the bus slept meanwhile. */
static void check_clock_step(struct scratch *s, const char *second_frame, const char *expected)
{
	char frames[200];

	snprintf(frames, sizeof(frames), "(100.000000) can0 101#\n%s", second_frame);
	scratch_puts(s, "frames.log", frames);
	scratch_puts(s, "journal.log",
		     "(50.0) locked\n(150.0) door\n(140.0) clock step -60 s\n(145.0) key\n");
	check(s, "", expected);
}

static void test_a_clock_set_back(void **state)
{
	struct scratch *s = *state;

	/* told by a frame later than the old clock ever was */
	check_clock_step(s, "(201.000000) can0 102#\n",
			 "50 locked\n100 frame 101\n150 door\n140 clock step -60 s\n145 key\n"
			 "201 frame 102\n");
	/* told by a frame much earlier than the one before */
	check_clock_step(s, "(190.000000) can0 102#\n(142.000000) can0 103#\n",
			 "50 locked\n100 frame 101\n150 door\n190 frame 102\n"
			 "140 clock step -60 s\n142 frame 103\n145 key\n");
	/* told by the recorder */
	check_clock_step(s, "# clock-step: -60 s\n(150.000000) can0 102#\n",
			 "50 locked\n100 frame 101\n150 door\n140 clock step -60 s\n"
			 "100 header clock-step\n145 key\n150 frame 102\n");
}

/* The clock is set by 3600 s at 10 (to 3610). Whoever noticed it wrote the entry later than
 * the first frames were stamped: it goes before them all the same. */
static void test_a_clock_set_forward(void **state)
{
	struct scratch *s = *state;

	scratch_puts(s, "frames.log",
		     "(8.000000) can0 101#\n(9.990000) can0 102#\n"
		     "(3610.000000) can0 103#\n(3610.010000) can0 104#\n"
		     "(3612.000000) can0 105#\n");
	scratch_puts(s, "current.log", "(9.000000) 1 A\n(3610.005000) 2 A\n");
	/* the last two were made later: of before, and two seconds late */
	scratch_puts(s, "journal.log",
		     "(5.0) locked\n(3610.02) clock step +3600 s\n"
		     "(3611.0) key\n(7.0) door\n(3609.5) note late\n");
	check(s, "",
	      "5 locked\n7 door\n8 frame 101\n9 current\n9 frame 102\n3610 clock step +3600 s\n"
	      "3609 note late\n3610 frame 103\n3610 current\n3610 frame 104\n3611 key\n"
	      "3612 frame 105\n");
}

static void test_journal_defects(void **state)
{
	struct scratch *s = *state;

	scratch_puts(s, "journal.log", "(1.0) lokced\n(2.0) door\n(3.0) isolated F1");
	scratch_puts(s, "current.log", "(1.0) 1 V\n(2.0) 1 A\n(3.0) 1");
	check(s, "",
	      "- defect journal.log:1:7 `lokced` is no kind of entry; expected locked, door, isolated, "
	      "reading, note, ...\n"
	      "- defect journal.log:3:0 the last line has no end, so it may be cut off: not taken\n"
	      "- defect current.log:1:7 expected a current with its unit, as 0.430 A\n"
	      "2 door\n2 current\n"
	      "2 defect current.log:3:0 its last line is cut off and was not taken\n");
}

/* Lines that end before `length`. */
static int whole_lines(const char *text, size_t length)
{
	int lines = 0;

	for (size_t i = 0; i < length; i++)
		lines += text[i] == '\n';
	return lines;
}

static void test_cut_anywhere(void **state)
{
	struct scratch *s = *state;
	static const char *const files[][2] = {
		{"session.txt", "nodoff session: 1\ntitle: a car\n"},
		{"frames-000001.log",
		 "(1.000000) can0 101#1122334455667788\n(2.000000) can0 102#\n"},
		{"frames-000002.log", "(3.000000) can0 103#11\n(4.000000) can0 104#\n"},
		{"journal.log", "(1.5) locked\n(2.5) isolated F12\n(3.5) refitted F12\n"},
		{"current.log", "(1.1) 0.430000 A\n(2.1) 0.430000 A\n"},
	};
	for (size_t cut_file = 0; cut_file < 5; cut_file++) {
		const char *text = files[cut_file][1];
		for (size_t cut = 0; cut <= strlen(text); cut++) {
			struct nod_error err = {""};
			struct transcript t;
			for (size_t i = 0; i < 5; i++)
				scratch_puts(s, files[i][0], files[i][1]);
			scratch_write(s, files[cut_file][0], text, cut);
			struct nod_session *session = nod_session_open(s->path, &err);
			assert_non_null(session);
			read_all(session, &t);
			nod_session_close(session);
			int whole = whole_lines(text, cut);
			assert_true(t.frames >= (cut_file == 1 || cut_file == 2 ? 2 + whole : 4));
			assert_int_equal(t.marks, cut_file == 3 ? whole : 3);
			assert_int_equal(t.samples, cut_file == 4 ? whole : 2);
		}
	}
}

static void test_packed_pieces_cut_anywhere(void **state)
{
	struct scratch *s = *state;
	const char *lines[] = {"(1.000000) can0 101#1122334455667788\n", "(2.000000) can0 102#\n",
			       "(3.000000) can0 103#99\n"};
	char packed[1024];
	size_t ends[4] = {0};

	for (int i = 0; i < 3; i++)
		ends[i + 1] = ends[i] + ZSTD_compress(packed + ends[i], sizeof(packed) - ends[i],
						      lines[i], strlen(lines[i]), 1);
	scratch_puts(s, "frames-000002.log", "(4.000000) can0 104#\n");
	for (size_t cut = 0; cut <= ends[3]; cut++) {
		struct nod_error err = {""};
		struct transcript t;
		int whole = (cut >= ends[1]) + (cut >= ends[2]) + (cut >= ends[3]);
		scratch_write(s, "frames-000001.log.zst", packed, cut);
		struct nod_session *session = nod_session_open(s->path, &err);
		assert_non_null(session);
		read_all(session, &t);
		nod_session_close(session);
		assert_true(t.frames >= 1 + whole);
	}
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
		TEST(test_everything_in_the_order_of_time),
		TEST(test_what_was_taken_back),
		TEST(test_pieces_follow_and_streams_are_merged),
		TEST(test_damaged_pieces_are_told_and_passed),
		TEST(test_headers_of_a_bare_capture_are_its_journal),
		TEST(test_a_header_after_frames_is_an_entry_too),
		TEST(test_which_lock_time),
		TEST(test_several_captures),
		TEST(test_refusals),
		TEST(test_a_clock_set_back),
		TEST(test_a_clock_set_forward),
		TEST(test_journal_defects),
		TEST(test_cut_anywhere),
		TEST(test_packed_pieces_cut_anywhere),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
