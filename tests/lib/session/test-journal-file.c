/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "faulty-ops.h"
#include "journal-file.h"
#include "scratch.h"

static struct nod_mark mark_at(int64_t s, enum nod_mark_kind kind, const char *subject)
{
	return (struct nod_mark){{s * NOD_NS_PER_S}, kind, subject};
}

static void append(struct scratch *s, int64_t at, enum nod_mark_kind kind, const char *subject)
{
	struct nod_mark mark = mark_at(at, kind, subject);
	struct nod_error err;

	assert_int_equal(nod_journal_append(scratch_path(s, "j"), &mark, NULL, &err), 0);
}

static void check_text(struct scratch *s, const char *expected)
{
	char *text = scratch_read(s, "j", NULL);

	assert_string_equal(text, expected);
	free(text);
}

static void test_appending(void **state)
{
	struct scratch *s = *state;

	append(s, 1, NOD_MARK_LOCKED, "");
	append(s, 2, NOD_MARK_ISOLATED, "F12");
	check_text(s, "(1.000000) locked\n(2.000000) isolated F12\n");
}

static void test_a_torn_line_is_closed_and_never_taken(void **state)
{
	struct scratch *s = *state;
	struct nod_journal_defect defect;
	struct nod_mark mark;
	uint64_t line;

	scratch_puts(s, "j", "(1.000000) locked\n(2.000000) isolated F1");
	struct nod_journal_file *file = nod_journal_file_open(scratch_path(s, "j"), NULL);
	assert_int_equal(nod_journal_file_next(file, &mark, &defect), NOD_JOURNAL_ENTRY);
	assert_int_equal(nod_journal_file_next(file, &mark, &defect), NOD_JOURNAL_END);
	assert_true(nod_journal_file_torn(file, &line));
	assert_int_equal(line, 2);

	append(s, 3, NOD_MARK_REFITTED, "F12");
	assert_int_equal(nod_journal_file_next(file, &mark, &defect), NOD_JOURNAL_DEFECT);
	assert_int_equal(defect.line, 2);
	assert_int_equal(defect.column, 1);
	assert_non_null(strstr(defect.reason.text, "cut off"));
	assert_int_equal(nod_journal_file_next(file, &mark, &defect), NOD_JOURNAL_ENTRY);
	assert_int_equal(mark.kind, NOD_MARK_REFITTED);
	assert_string_equal(mark.subject, "F12");
	assert_int_equal(nod_journal_file_next(file, &mark, &defect), NOD_JOURNAL_END);
	assert_false(nod_journal_file_torn(file, NULL));
	assert_int_equal(nod_journal_file_lines(file), 3);
	nod_journal_file_close(file);
}

static void test_defects_have_line_and_column(void **state)
{
	struct scratch *s = *state;
	struct nod_journal_defect defect;
	struct nod_mark mark;
	char text[6000] = "# head\n(1.0) lokced\n(2.0) door\n";
	size_t length = strlen(text);

	memset(text + length, 'x', 5000);
	length += 5000;
	length += (size_t)sprintf(text + length, "\n(3.0) key\nab%ccd\n(4.0) door\n", 0);
	scratch_write(s, "j", text, length);
	struct nod_journal_file *file = nod_journal_file_open(scratch_path(s, "j"), NULL);
	assert_int_equal(nod_journal_file_next(file, &mark, &defect), NOD_JOURNAL_DEFECT);
	assert_int_equal(defect.line, 2);
	assert_int_equal(defect.column, 7);
	assert_int_equal(nod_journal_file_next(file, &mark, &defect), NOD_JOURNAL_ENTRY);
	assert_int_equal(nod_journal_file_next(file, &mark, &defect), NOD_JOURNAL_DEFECT);
	assert_int_equal(defect.line, 4);
	assert_non_null(strstr(defect.reason.text, "too long"));
	assert_int_equal(nod_journal_file_next(file, &mark, &defect), NOD_JOURNAL_ENTRY);
	assert_int_equal(mark.kind, NOD_MARK_KEY);
	assert_int_equal(nod_journal_file_next(file, &mark, &defect), NOD_JOURNAL_DEFECT);
	assert_int_equal(defect.line, 6);
	assert_non_null(strstr(defect.reason.text, "zero bytes"));
	assert_int_equal(nod_journal_file_next(file, &mark, &defect), NOD_JOURNAL_ENTRY);
	assert_int_equal(nod_journal_file_next(file, &mark, &defect), NOD_JOURNAL_END);
	nod_journal_file_close(file);
}

/* Whatever fails: either the mark is acknowledged and there, or the journal
 * is what it was. */
static void test_every_failure_leaves_the_journal_whole(void **state)
{
	struct scratch *s = *state;
	const char *before = "(1.000000) locked\n";
	int failures = 0;

	for (int tear = 0; tear < 2; tear++)
		for (long at = 1; at < 8; at++) {
			struct nod_mark mark = mark_at(2, NOD_MARK_ISOLATED, "F12");
			struct faulty faulty;
			struct nod_error err = {""};
			faulty_init(&faulty, at, ENOSPC, tear);
			scratch_puts(s, "j", before);
			int result = nod_journal_append(scratch_path(s, "j"), &mark, &faulty.ops,
							&err);
			failures += result != 0;
			assert_true(result == 0 || result == -ENOSPC);
			assert_int_equal(result != 0, err.text[0] != '\0');
			check_text(s, result ? before
					     : "(1.000000) locked\n(2.000000) isolated F12\n");
			assert_int_equal(faulty.open_files, 0);
		}
	assert_true(failures >= 5);
}

static void test_a_half_line_that_cannot_be_cut_off_is_closed_later(void **state)
{
	struct scratch *s = *state;
	struct nod_mark mark = mark_at(2, NOD_MARK_ISOLATED, "F12");
	struct faulty faulty;

	faulty_init(&faulty, 2, EIO, 1);
	faulty.fail_to = 3; /* write, write again, and the truncation after it */
	scratch_puts(s, "j", "(1.000000) locked\n");
	assert_int_equal(nod_journal_append(scratch_path(s, "j"), &mark, &faulty.ops, NULL), -EIO);
	append(s, 3, NOD_MARK_DOOR, "");
	check_text(s, "(1.000000) locked\n(2.000000) i #cut-off\n(3.000000) door\n");
}

static void test_what_is_no_file(void **state)
{
	struct scratch *s = *state;
	struct nod_error err = {""};

	assert_null(nod_journal_file_open(scratch_path(s, "none"), &err));
	assert_int_equal(errno, ENOENT);
	assert_non_null(strstr(err.text, "none"));
	assert_null(nod_journal_file_open(s->path, &err));
	assert_int_equal(errno, EINVAL);
	assert_int_equal(mkfifo(scratch_path(s, "pipe"), 0600), 0);
	assert_null(nod_journal_file_open(scratch_path(s, "pipe"), &err));
	assert_int_equal(errno, EINVAL);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		SCRATCH_TEST(test_appending),
		SCRATCH_TEST(test_a_torn_line_is_closed_and_never_taken),
		SCRATCH_TEST(test_defects_have_line_and_column),
		SCRATCH_TEST(test_every_failure_leaves_the_journal_whole),
		SCRATCH_TEST(test_a_half_line_that_cannot_be_cut_off_is_closed_later),
		SCRATCH_TEST(test_what_is_no_file),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
