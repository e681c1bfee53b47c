/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "journal.h"
#include "plain-text.h"

static void test_marks(void **state)
{
	(void)state;
	static const struct {
		const char *line;
		int64_t ns;
		enum nod_mark_kind kind;
		const char *subject;
	} cases[] = {
		{"(1700000000.000000) locked", INT64_C(1700000000000000000), NOD_MARK_LOCKED, ""},
		{"(1700002400.500000) isolated F12", INT64_C(1700002400500000000),
		 NOD_MARK_ISOLATED, "F12"},
		{"(1.000000001)  reading\tF12 2.3 mV \r", INT64_C(1000000001), NOD_MARK_READING,
		 "F12 2.3 mV"},
		{"  (7) touched tailgate switch", 7 * NOD_NS_PER_S, NOD_MARK_TOUCHED,
		 "tailgate switch"},
		{"(5.000000) clock step +3600 s", 5 * NOD_NS_PER_S, NOD_MARK_CLOCK_STEP, "+3600 s"},
		{"(5.000000) tester off", 5 * NOD_NS_PER_S, NOD_MARK_TESTER_OFF, ""},
		{"(5.000000) tester-on  dongle", 5 * NOD_NS_PER_S, NOD_MARK_TESTER_ON, "dongle"},
		{"(5.000000) gap can0 12.5 s", 5 * NOD_NS_PER_S, NOD_MARK_GAP, "can0 12.5 s"},
		{"(5.000000) note # not a comment", 5 * NOD_NS_PER_S, NOD_MARK_NOTE,
		 "# not a comment"},
	};
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		char line[100];
		struct nod_mark mark;
		struct nod_error err = {""};
		unsigned column;
		strcpy(line, cases[i].line);
		assert_int_equal(nod_mark_parse(&mark, line, &column, &err), 1);
		assert_int_equal(mark.time.ns, cases[i].ns);
		assert_int_equal(mark.kind, cases[i].kind);
		assert_string_equal(mark.subject, cases[i].subject);
		assert_string_equal(err.text, "");
	}
}

static void test_comments_and_empty_lines(void **state)
{
	(void)state;
	const char *lines[] = {"", "   ", "\r", "# a comment", "  # (1.0) locked"};

	for (size_t i = 0; i < sizeof(lines) / sizeof(lines[0]); i++) {
		char line[40];
		struct nod_mark mark;
		unsigned column;
		strcpy(line, lines[i]);
		assert_int_equal(nod_mark_parse(&mark, line, &column, NULL), 0);
	}
}

static void test_refusals_name_the_column(void **state)
{
	(void)state;
	static const struct {
		const char *line, *expected;
		unsigned column;
	} cases[] = {
		{"locked", "time", 1},
		{"  (12:30) locked", "time", 3},
		{"(1.0", "time", 1},
		{"(1.0)", "kind", 6},
		{"(1.0) ", "kind", 6},
		{"(1.0)locked", "blank", 6},
		{"(1.0) lokced", "`lokced`", 7},
		{"(1.0) tester", "`tester`", 7},
		{"(1.0) clock stepped", "`clock`", 7},
		{"(1.0) Locked", "`Locked`", 7},
		{"(1.0) isolated F1 #cut-off", "cut off", 1},
		{"(99999999999999.0) locked", "time", 1},
	};
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		char line[60];
		struct nod_mark mark;
		struct nod_error err = {""};
		unsigned column = 0;
		strcpy(line, cases[i].line);
		assert_int_equal(nod_mark_parse(&mark, line, &column, &err), -EINVAL);
		assert_int_equal(column, cases[i].column);
		assert_non_null(strstr(err.text, cases[i].expected));
	}
}

static void check_print(const char *subject, int64_t ns, const char *expected)
{
	struct nod_mark mark = {{ns}, NOD_MARK_NOTE, subject};
	char buf[200];
	int length = nod_mark_print(buf, sizeof(buf), &mark);

	assert_string_equal(buf, expected);
	assert_int_equal(length, strlen(expected));
	assert_int_equal(nod_mark_print(buf, (size_t)length + 1, &mark), length);
	assert_int_equal(nod_mark_print(buf, (size_t)length, &mark), -ENOBUFS);
}

static void test_printing(void **state)
{
	(void)state;
	int64_t t = INT64_C(1700000000000000000);

	check_print("rain", t, "(1700000000.000000) note rain\n");
	check_print("rain", t + 1000, "(1700000000.000001) note rain\n");
	check_print("rain", t + 1, "(1700000000.000000001) note rain\n");
	check_print(NULL, t, "(1700000000.000000) note\n");
	check_print("  ", t, "(1700000000.000000) note\n");
	check_print(" two\nlines\t\x1b[1m ", t, "(1700000000.000000) note two lines  [1m\n");
	check_print("it ended in #cut-off", t, "(1700000000.000000) note it ended in\n");
	check_print("it ended in #cut-off\016", t, "(1700000000.000000) note it ended in\n");
	check_print("it ended in\001#cut-off", t, "(1700000000.000000) note it ended in\n");
	check_print("#cut-off", t, "(1700000000.000000) note\n");
	check_print("\001 a", t, "(1700000000.000000) note a\n");
	check_print("K\xc3\xbchler", t, "(1700000000.000000) note K\xc3\xbchler\n");
}

static void test_what_is_printed_can_be_read(void **state)
{
	(void)state;
	for (unsigned kind = 0; kind < NOD_MARK_KINDS; kind++) {
		struct nod_mark mark = {{NOD_NS_PER_S + kind}, kind, "F12 2.3 mV"}, back;
		char buf[100];
		unsigned column;
		int length = nod_mark_print(buf, sizeof(buf), &mark);
		assert_true(length > 0);
		buf[length - 1] = '\0';
		assert_int_equal(nod_mark_parse(&back, buf, &column, NULL), 1);
		assert_int_equal(back.time.ns, mark.time.ns);
		assert_int_equal(back.kind, kind);
		assert_string_equal(back.subject, mark.subject);
	}
}

static void test_kinds(void **state)
{
	(void)state;
	enum nod_mark_kind kind;

	for (unsigned i = 0; i < NOD_MARK_KINDS; i++) {
		assert_int_equal(nod_mark_kind_parse(&kind, nod_mark_kind_name(i)), 0);
		assert_int_equal(kind, i);
		assert_true(strlen(nod_mark_kind_help(i)) > 10);
	}
	assert_int_equal(nod_mark_kind_parse(&kind, "tester-off"), 0);
	assert_int_equal(kind, NOD_MARK_TESTER_OFF);
	assert_int_equal(nod_mark_kind_parse(&kind, "lock"), -EINVAL);
	assert_int_equal(nod_mark_kind_parse(&kind, "locked now"), -EINVAL);
	assert_true(nod_mark_disturbs(NOD_MARK_REFITTED));
	assert_true(nod_mark_disturbs(NOD_MARK_DOOR));
	assert_false(nod_mark_disturbs(NOD_MARK_LOCKED));
	assert_false(nod_mark_disturbs(NOD_MARK_READING));
	assert_false(nod_mark_disturbs(NOD_MARK_GAP));
}

static void test_what_a_mark_needs(void **state)
{
	(void)state;
	static const struct {
		const char *line, *lacks; /* NULL: nothing */
	} cases[] = {
		{"locked", NULL},
		{"door left rear", NULL},
		{"isolated F12", NULL},
		{"isolated", "which fuse or module"},
		{"refitted", "which fuse or module"},
		{"touched", "which switch"},
		{"note", "its text"},
		{"reading F12 2.3 mV", NULL},
		{"reading battery -0.3 A", NULL},
		{"reading CANH 2.6V with the key out", "the unit"},
		{"reading F12 2.3", "the unit"},
		{"reading F12", "the value"},
		{"reading", "what was measured"},
		{"isolated F12 --ago 2 min", "--ago"},
		{"note --at last", "--at"},
		{"note see --atlas", NULL},
	};
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		char line[100];
		struct nod_mark mark;
		struct nod_error err = {""};
		unsigned column;
		snprintf(line, sizeof(line), "(1) %s", cases[i].line);
		assert_int_equal(nod_mark_parse(&mark, line, &column, NULL), 1);
		assert_int_equal(nod_mark_check(&mark, &err), cases[i].lacks ? -EINVAL : 0);
		if (cases[i].lacks)
			assert_non_null(strstr(err.text, cases[i].lacks));
	}
}

static void test_who_enters_what(void **state)
{
	(void)state;
	assert_true(nod_mark_is_persons(NOD_MARK_ISOLATED));
	assert_true(nod_mark_is_persons(NOD_MARK_NOTHING));
	assert_false(nod_mark_is_persons(NOD_MARK_GAP));
	assert_false(nod_mark_is_persons(NOD_MARK_UNDONE));
}

/* What is taken live is what will be read again. */
static void test_clean_is_what_is_read_again(void **state)
{
	static const char *const subjects[] = {"",
					       " ",
					       "F12",
					       "\tF12\r\n",
					       "a\x1b[31mb\nc",
					       "\xc2\x9b\x32J",
					       "\xc2\xa0",
					       "\xc3\xa4 #cut-off",
					       "#cut-off",
					       "x\x7f#cut-off ",
					       "a\x01#cut-off #cut-off",
					       "\xc2",
					       "\x9b"};

	(void)state;
	for (size_t i = 0; i < sizeof(subjects) / sizeof(subjects[0]); i++) {
		struct nod_mark mark = {{NOD_NS_PER_S}, NOD_MARK_NOTE, subjects[i]}, again;
		char line[NOD_MARK_LINE_MAX], clean[NOD_MARK_LINE_MAX];
		unsigned column;
		assert_true(nod_mark_print(line, sizeof(line), &mark) > 0);
		line[strlen(line) - 1] = '\0';
		assert_int_equal(nod_mark_parse(&again, line, &column, NULL), 1);
		assert_int_equal(nod_mark_clean(clean, subjects[i]), 0);
		assert_string_equal(again.subject, clean);
		for (const char *c = clean; *c; c++)
			assert_int_equal(nod_control_length(c), 0);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_marks),
		cmocka_unit_test(test_comments_and_empty_lines),
		cmocka_unit_test(test_refusals_name_the_column),
		cmocka_unit_test(test_printing),
		cmocka_unit_test(test_what_is_printed_can_be_read),
		cmocka_unit_test(test_kinds),
		cmocka_unit_test(test_what_a_mark_needs),
		cmocka_unit_test(test_who_enters_what),
		cmocka_unit_test(test_clean_is_what_is_read_again),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
