/* SPDX-License-Identifier: MIT */
/* Files that are damaged or cut off anywhere: the rest is read, and the damage told. */
#include "transcript.h"

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

static void test_journal_defects(void **state)
{
	struct scratch *s = *state;

	scratch_puts(s, "journal.log", "(1.0) lokced\n(2.0) door\n(3.0) isolated F1");
	scratch_puts(s, "current.log", "(1.0) 1 V\n(2.0) 1 A\n(3.0) 1");
	check(s, "",
	      "- defect journal.log:1:7 `lokced` is no kind of mark; expected locked, door, isolated, "
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

int main(void)
{
	const struct CMUnitTest tests[] = {
		SCRATCH_TEST(test_damaged_pieces_are_told_and_passed),
		SCRATCH_TEST(test_journal_defects),
		SCRATCH_TEST(test_cut_anywhere),
		SCRATCH_TEST(test_packed_pieces_cut_anywhere),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
