/* SPDX-License-Identifier: MIT */
#include "transcript.h"

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

/* The journal seemed to have ended when the first frame was read. */
static void test_a_header_after_frames_is_a_mark_too(void **state)
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
	struct nod_session_lock lock;
	struct nod_error err = {""};
	assert_int_equal(nod_session_find_lock(scratch_path(s, "none"), &lock, &err), -ENOENT);
	scratch_puts(s, "text", "dear diary\nno capture\n");
	check_refused(scratch_path(s, "text"), EINVAL, "text");
	scratch_puts(s, "session.txt", "nodoff session: 2\n");
	check_refused(s->path, EINVAL, "form 2");
}

static void test_what_cannot_be_read_of_session_txt_is_counted(void **state)
{
	struct scratch *s = *state;
	struct nod_error err = {""};

	scratch_puts(s, "frames.log", "(100.000000) can0 101#\n");
	scratch_puts(s, "session.txt", "nodoff session: 1\nrubbish\n# a note\n: none\ntitle: a\n");
	struct nod_session *session = nod_session_open(s->path, &err);
	assert_non_null(session);
	unsigned found = 0;
	for (size_t i = 0; i < nod_session_file_count(session); i++) {
		const struct nod_session_file *file = nod_session_file(session, i);
		bool about = strstr(file->path, "session.txt");
		assert_int_equal(file->counts.defects, about ? 2 : 0);
		found += about;
	}
	assert_int_equal(found, 1);
	nod_session_close(session);
}

/* Frames that come by the hundred end before an entry and before a sample. */
static void test_frames_by_the_hundred_stay_in_the_order_of_time(void **state)
{
	struct scratch *s = *state;
	struct nod_error err = {""};
	char text[40 * 400] = "";
	size_t batches = 0, taken = 0, others = 0;

	for (int i = 0; i < 400; i++)
		snprintf(text + strlen(text), 40, "(%d.%02d0000) can0 101#\n", 100 + i / 100,
			 i % 100);
	scratch_puts(s, "frames.log", text);
	scratch_puts(s, "journal.log", "(100.505) door\n(102.005) door\n");
	scratch_puts(s, "current.log", "(101.255) 1 A\n");
	struct nod_session *session = nod_session_open(s->path, &err);
	const struct nod_frame *frames;
	const struct nod_event *event;
	nod_time last = NOD_TIME_NONE;
	assert_non_null(session);
	for (;;) {
		size_t count = nod_session_frames(session, &frames);
		for (size_t i = 0; i < count; i++) {
			assert_true(!nod_time_is_set(last) || frames[i].time.ns >= last.ns);
			last = frames[i].time;
		}
		batches += count > 1;
		taken += count;
		if (count)
			continue;
		if (nod_session_next(session, &event, &err) <= 0)
			break;
		assert_true(!nod_time_is_set(last) || event->time.ns >= last.ns);
		last = event->time;
		taken += event->kind == NOD_EVENT_FRAME;
		others += event->kind != NOD_EVENT_FRAME;
	}
	assert_int_equal(taken, 400);
	assert_int_equal(others, 3);
	assert_true(batches > 1);
	nod_session_close(session);
}

static void test_entries_and_samples_are_counted(void **state)
{
	static const char current[] = "(100.0) 1 A\n(100.2) 2 A\n\0\0\0\0\n(100.4) 3 A\n";
	struct scratch *s = *state;
	struct nod_error err = {""};
	const struct nod_event *event;

	scratch_puts(s, "frames.log", "(100.000000) can0 101#\n(101.000000) can0 101#\n");
	scratch_puts(s, "journal.log", "(100.0) locked\n(100.5) door\nrubbish\n");
	scratch_write(s, "current.log", current, sizeof(current) - 1);
	struct nod_session *session = nod_session_open(s->path, &err);
	assert_non_null(session);
	while (nod_session_next(session, &event, &err) > 0)
		;
	for (size_t i = 0; i < nod_session_file_count(session); i++) {
		const struct nod_session_file *file = nod_session_file(session, i);
		bool journal = strstr(file->path, "journal.log");
		bool frames = strstr(file->path, "frames.log");
		assert_int_equal(file->counts.frames, journal || frames ? 2 : 3);
		assert_int_equal(file->counts.lines, frames ? 2 : journal ? 3 : 4);
		assert_int_equal(file->counts.defects, !frames);
	}
	nod_session_close(session);
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

/* The clock is set by 3600 s at 10 (to 3610). Whoever noticed it wrote the mark later than
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

int main(void)
{
	const struct CMUnitTest tests[] = {
		SCRATCH_TEST(test_everything_in_the_order_of_time),
		SCRATCH_TEST(test_what_was_taken_back),
		SCRATCH_TEST(test_pieces_follow_and_streams_are_merged),
		SCRATCH_TEST(test_headers_of_a_bare_capture_are_its_journal),
		SCRATCH_TEST(test_a_header_after_frames_is_a_mark_too),
		SCRATCH_TEST(test_which_lock_time),
		SCRATCH_TEST(test_several_captures),
		SCRATCH_TEST(test_refusals),
		SCRATCH_TEST(test_frames_by_the_hundred_stay_in_the_order_of_time),
		SCRATCH_TEST(test_entries_and_samples_are_counted),
		SCRATCH_TEST(test_what_cannot_be_read_of_session_txt_is_counted),
		SCRATCH_TEST(test_a_clock_set_back),
		SCRATCH_TEST(test_a_clock_set_forward),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
