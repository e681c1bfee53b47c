/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#include "event-text.h"
#include "lines.h"

static void expect(const char *capture, const char *events)
{
	char *text = events_in(capture, strlen(capture), 0, 0);
	assert_string_equal(text, events);
	free(text);
}

static void test_interfaces_are_numbered_by_first_use(void **state)
{
	(void)state;
	struct nod_interfaces names = {0};
	char name[8];
	assert_int_equal(nod_interfaces_index(&names, "can0 ", 4), 0);
	assert_int_equal(nod_interfaces_index(&names, "can", 3), 1);
	assert_int_equal(nod_interfaces_index(&names, "can0", 4), 0);
	assert_int_equal(nod_interfaces_index(&names, "", 0), -EINVAL);
	assert_int_equal(nod_interfaces_index(&names, "0123456789abcdef", 16), -EINVAL);
	assert_int_equal(nod_interfaces_index(&names, "a\x1B[m", 4), -EINVAL);
	for (unsigned i = 2; i < NOD_INTERFACES_MAX; i++) {
		snprintf(name, sizeof(name), "v%u", i);
		assert_int_equal(nod_interfaces_index(&names, name, strlen(name)), i);
	}
	assert_int_equal(nod_interfaces_index(&names, "one-more", 8), -ENOSPC);
	assert_int_equal(nod_interfaces_index(&names, "v63", 3), 63);
}

static void test_every_kind_of_line(void **state)
{
	(void)state;
	expect("# locked: 1700000000.5 \r\n"
	       "# made by hand\n"
	       "\n"
	       "(1.000000) can0 123#1122\n"
	       "DROPCOUNT: dropped 3 CAN frames on 'can1' socket (total drops 3)\n"
	       "DROPCOUNT: dropped 1 CAN frame on 'can1' socket (total drops 4)\n"
	       "(1.500000000)  can1 20000004#0001000000000000\r\n"
	       "nonsense\n"
	       "(1.250000) can0 00000123#R2\n"
	       "(1.300000) can0 45123#81:00:12345678#11\n",
	       "header locked=1700000000.5\n"
	       "1000000000 can0 00000123 [2] flags 00 dlc 0 11 22\n"
	       "1000000000 lost 3 on can1\n"
	       "1000000000 lost 1 on can1\n"
	       "1500000000 can1 20000004 [8] flags 00 dlc 0 00 01 00 00 00 00 00 00\n"
	       "1500000000 x.log:8:1 expected a time in parentheses\n"
	       "1250000000 can0 C0000123 [2] flags 00 dlc 0\n"
	       "1250000000 x.log:10:17 CAN XL is not supported\n"
	       "candump log: 0 ; 10 lines, 3 frames, 1 errors, 2 defects, 4 lost, 1 back, "
	       "250000000 ns\n");
}

static void test_a_torn_last_line(void **state)
{
	(void)state;
	expect("(1.000000) can0 123#11\n(2.000000) can0 12",
	       "1000000000 can0 00000123 [1] flags 00 dlc 0 11\n"
	       "1000000000 x.log:2:19 the last line is cut off\n"
	       "candump log: 0 ; 2 lines, 1 frames, 0 errors, 1 defects, 0 lost, 0 back, 0 ns, "
	       "torn\n");
	/* whole by its form: taken, but said to have no end */
	expect("(1.000000) can0 123#11",
	       "1000000000 can0 00000123 [1] flags 00 dlc 0 11\n"
	       "candump log: 0 ; 1 lines, 1 frames, 0 errors, 0 defects, 0 lost, 0 back, 0 ns, "
	       "torn\n");
}

static void test_headers(void **state)
{
	(void)state;
	expect("#a: b\n# c:\n# d:e\n# two words: x\n#  f-1.x_y:  a\tb\x1B[m  \n",
	       "header a=b\nheader c=\nheader f-1.x_y=a b [m\n"
	       "candump log: 0 ; 5 lines, 0 frames, 0 errors, 0 defects, 0 lost, 0 back, 0 ns\n");
}

static void test_bad_drop_counts_are_defects(void **state)
{
	(void)state;
	expect("DROPCOUNT: dropped x CAN frames on 'can1' socket (total drops 3)\n"
	       "DROPCOUNT: dropped 3 CAN frames on 'can1\n",
	       "x.log:1:20 expected candump's report of dropped frames\n"
	       "x.log:2:37 expected candump's report of dropped frames\n"
	       "candump log: 0 ; 2 lines, 0 frames, 0 errors, 2 defects, 0 lost, 0 back, 0 ns\n");
}

static void test_long_lines_are_one_defect(void **state)
{
	(void)state;
	static const char first[] = "(1.000000) can0 123#11\n", last[] = "(2.000000) can0 123#22\n";
	static const size_t lengths[] = {NOD_LINE_MAX, NOD_LINE_MAX + 1, NOD_LINE_MAX + 2,
					 NOD_LINES_BUFFER, 3 * NOD_LINES_BUFFER + 17};
	for (size_t i = 0; i < 5; i++) {
		size_t n = lengths[i], head = strlen(first);
		char *capture = malloc(n + 100);
		if (!capture)
			abort();
		memcpy(capture, first, head);
		memset(capture + head, 'x', n);
		sprintf(capture + head + n, "\n%s", last);
		char *text = events_in(capture, strlen(capture), 0, 0);
		assert_non_null(strstr(text, n > NOD_LINE_MAX
						     ? "x.log:2:4097 a line of more than 4096 "
						       "characters\n2000000000 can0"
						     : "x.log:2:1 expected a time in parentheses\n"
						       "2000000000 can0"));
		assert_non_null(strstr(text, "; 3 lines, 2 frames, 0 errors, 1 defects"));
		for (uint64_t seed = 1; seed < 4; seed++) {
			char *again = events_in(capture, strlen(capture), 9000, seed);
			assert_string_equal(again, text);
			free(again);
		}
		free(text);
		free(capture);
	}
}

static void test_the_screen_form(void **state)
{
	(void)state;
	expect(" (1700000000.000000)  can0  123   [1]  11\n"
	       " (1700000001.000000)  can0  20000004   [8]  00 01 00 00 00 00 00 00   ERRORFRAME\n"
	       "\tcontroller-problem{rx-overflow}\n"
	       "\tnot an explanation\n",
	       "1700000000000000000 can0 00000123 [1] flags 00 dlc 0 11\n"
	       "1700000001000000000 can0 20000004 [8] flags 00 dlc 0 00 01 00 00 00 00 00 00\n"
	       "candump screen form: 0 ; 4 lines, 2 frames, 1 errors, 0 defects, 0 lost, 0 back, "
	       "0 ns\n");
	expect(" (000.000000)  can0  123   [1]  11\n (000.010000)  can0  123   [1]  11\n",
	       "0 can0 00000123 [1] flags 00 dlc 0 11\n"
	       "10000000 can0 00000123 [1] flags 00 dlc 0 11\n"
	       "candump screen form, times from zero: 0 ; 2 lines, 2 frames, 0 errors, 0 defects, "
	       "0 lost, 0 back, 0 ns\n");
}

static void refused(const char *capture, size_t length, const char *reason)
{
	struct memory_reader reader = {capture, length, 0, 0, 0, 0};
	struct nod_interfaces names = {0};
	struct nod_error err = {""};
	errno = 0;
	assert_null(nod_source_open_reader(memory_read, &reader, "x.log", &names, &err));
	assert_int_equal(errno, EINVAL);
	assert_string_equal(err.text, reason);
	assert_int_equal(names.count, 0);
}

static void test_what_is_no_capture_is_refused_with_the_reason(void **state)
{
	(void)state;
	static const char letter[] = "# a comment\nDear Sir,\n(see enclosed)\n";
	char differences[1000] = "";

	refused("  can0  123   [2]  11 22\n", 25,
		"x.log: candump's form without any time: when a frame came is not in it, and nothing "
		"here can be said without; record with candump -L or -ta");
	refused("can0 123#1122\n", 14,
		"x.log: candump's form without any time: when a frame came is not in it, and nothing "
		"here can be said without; record with candump -L or -ta");
	refused("t1232AABB\n", 10,
		"x.log: lines of a serial CAN adapter without any time: when a frame came is not in "
		"it, and nothing here can be said without; switch the adapter's time stamps on (Z1), "
		"or let the serial monitor show times");
	refused("MDF     4.10    ", 16,
		"x.log: a measurement file (MDF); let the program that wrote it, or asammdf, export "
		"its CAN frames as ASC, BLF or CSV, which are read here");
	refused("UnFinMF 4.11    ", 16,
		"x.log: a measurement file (MDF) that was not finished; let the logger's program, or "
		"asammdf, finish it and export its CAN frames as ASC, BLF or CSV, which are read here");
	refused("7z\xBC\xAF'\x1C..", 8, "x.log: packed with 7-Zip; unpack it first");
	refused("t1232AABB\rt1232AABB\r", 20,
		"x.log: its lines end in carriage returns alone; make them line ends: tr '\\r' '\\n' < "
		"FILE > capture.log");
	refused("0.000,123,8,11,22\n", 18,
		"x.log: a table, but its first line, \"0.000,123,8,11,22\", does not say which columns "
		"are time, ID and data; put a line of names like \"time s,id,data\" before it (time us: "
		"microseconds; ID and data are hexadecimal)");
	refused(letter, strlen(letter),
		"x.log: not a capture: expected candump lines like \"(1700000000.123456) can0 "
		"123#1122\", pcap, ASC, TRC, BLF or CSV, found \"Dear Sir,\"; asc2log or python3 -m "
		"can.logconvert FILE capture.log convert other logs");
	refused("\x7F"
		"ELF\x02\x01\x01\0\0\0\0\0",
		12,
		"x.log: not a capture: neither candump text nor pcap nor BLF; it begins with the bytes "
		"7F 45 4C 46 02 01 01 00; python3 -m can.logconvert FILE capture.log converts what "
		"python3-can reads");
	refused("\xFD"
		"7zXZ\0....",
		10, "x.log: packed with xz; unpack it first");
	for (int i = 0; i < 12; i++)
		sprintf(differences + strlen(differences), " (000.%06d)  can0  123   [1]  11\n",
			i ? 10000 + i * 7 % 5 : 0);
	refused(differences, strlen(differences),
		"x.log: the times are differences from line to line (candump -td), no times to go "
		"by; record with candump -L or -ta");
	differences[35 * 4] = '\0';
	refused(differences, strlen(differences),
		"x.log: too few lines to tell whether the times count from zero or from the line "
		"before; record with candump -L or -ta");
}

static void test_nothing_but_comments_is_a_silent_log(void **state)
{
	(void)state;
	static const char counts[] =
		"0 lines, 0 frames, 0 errors, 0 defects, 0 lost, 0 back, 0 ns\n";
	char expected[200];
	snprintf(expected, sizeof(expected), "candump log: 0 ; %s", counts);
	expect("", expected);
	*strstr(expected, "0 lines") = '1';
	expect("# nothing came\n", expected);
}

/* A capture with all kinds of lines, some of them damaged. */
static char *mixed_capture(size_t *size)
{
	static const char *const lines[] = {
		"(%d.%06d) can0 123#1122334455667788\n",
		"(%d.%06d)   can1 18DB33F1#023E80\r\n",
		"(%d.%06d789) can0 7FF#\n",
		"(%d.%06d) a-longer-name 123##5112233 R\n",
		"(%d.%06d) can1 123#R4\n",
		"(%d.%06d) can0 20000080#0000000000000000\n",
		"(%d.%06d) can0 123#112233445566778\n",
		"# at: %d.%06d\n",
		"DROPCOUNT: dropped %d CAN frames on 'can0' socket (total drops %d)\n",
		"%d.%06d\n",
		"(%d.%06d) can0 123#1122334455667788_A\n",
	};
	char *text = NULL;
	FILE *out = open_memstream(&text, size);
	unsigned random = 1;
	for (int i = 0; i < 20000; i++) {
		random = random * 1103515245 + 12345;
		unsigned pick = random >> 16;
#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wformat-nonliteral"
		fprintf(out, lines[pick % 3 ? pick % 2 : pick % 11], 1000 + i / 5000,
			i * 50 % 1000000);
#pragma GCC diagnostic pop
	}
	fprintf(out, "(1.0");
	fclose(out);
	return text;
}

static void test_pieces_do_not_matter(void **state)
{
	(void)state;
	size_t size;
	char *capture = mixed_capture(&size);
	char *whole = events_in(capture, size, 0, 0);
	assert_non_null(strstr(whole, ", torn"));
	assert_true(size > 2 * NOD_LINES_BUFFER);
	for (uint64_t seed = 1; seed <= 20; seed++) {
		char *again = events_in(capture, size, seed % 2 ? 100 : 300000, seed);
		assert_string_equal(again, whole);
		free(again);
	}
	free(whole);
	free(capture);
}

/* Line by line: each read ends where a line ends. */
struct line_reader {
	const char *p;
};

static ptrdiff_t read_line(void *context, void *buf, size_t size)
{
	struct line_reader *reader = context;
	size_t n = strcspn(reader->p, "\n");
	n += reader->p[n] == '\n';
	n = n < size ? n : size;
	memcpy(buf, reader->p, n);
	reader->p += n;
	return (ptrdiff_t)n;
}

static void test_line_by_line_is_the_same(void **state)
{
	(void)state;
	size_t size;
	char *capture = mixed_capture(&size);
	char *whole = events_in(capture, size, 0, 0);
	struct line_reader reader = {capture};
	struct nod_interfaces names = {0};
	struct nod_source *source = nod_source_open_reader(read_line, &reader, "x.log", &names,
							   NULL);
	char *again = events_of(source, &names);
	assert_string_equal(again, whole);
	free(again);
	free(whole);
	free(capture);
}

static void test_a_failing_read_ends_with_its_reason(void **state)
{
	(void)state;
	static const char capture[] = "(1.000000) can0 123#11\n";
	struct memory_reader reader = {capture, strlen(capture), 0, 0, 0, -EIO};
	struct nod_interfaces names = {0};
	char *text = events_of(nod_source_open_reader(memory_read, &reader, "x.log", &names, NULL),
			       &names);
	assert_string_equal(text, "1000000000 can0 00000123 [1] flags 00 dlc 0 11\n"
				  "candump log: -5 x.log: cannot be read on: Input/output error; "
				  "1 lines, 1 frames, 0 errors, 0 defects, 0 lost, 0 back, 0 ns\n");
	free(text);
}

static void test_merging_is_stable_and_keeps_each_order(void **state)
{
	(void)state;
	static const char *const captures[] = {
		"# from: a\n(1.000000) a 001#\n(3.000000) a 002#\n(2.900000) a 003#\n(5.000000) a 004#\n",
		"(1.000000) b 001#\n(2.950000) b 002#\n(3.000000) b 003#\n",
		"",
	};
	struct memory_reader readers[3];
	struct nod_source *sources[3];
	struct nod_interfaces names = {0};
	for (size_t i = 0; i < 3; i++) {
		readers[i] = (struct memory_reader){captures[i], strlen(captures[i]), 0, 1, 0, 0};
		sources[i] = nod_source_open_reader(memory_read, &readers[i], "x.log", &names,
						    NULL);
		assert_non_null(sources[i]);
	}
	char *text = events_of(nod_source_merge(sources, 3), &names);
	assert_string_equal(text, "header from=a\n"
				  "1000000000 a 00000001 [0] flags 00 dlc 0\n"
				  "1000000000 b 00000001 [0] flags 00 dlc 0\n"
				  "2950000000 b 00000002 [0] flags 00 dlc 0\n"
				  "3000000000 a 00000002 [0] flags 00 dlc 0\n"
				  "2900000000 a 00000003 [0] flags 00 dlc 0\n"
				  "3000000000 b 00000003 [0] flags 00 dlc 0\n"
				  "5000000000 a 00000004 [0] flags 00 dlc 0\n"
				  "3 captures merged by time: 0 ; 8 lines, 7 frames, 0 errors, 0 "
				  "defects, 0 lost, 1 back, 100000000 ns\n");
	free(text);
	text = events_of(nod_source_merge(NULL, 0), &names);
	assert_non_null(strstr(text, ": 0 ; 0 lines"));
	free(text);
}

static void test_files(void **state)
{
	(void)state;
	struct nod_interfaces names = {0};
	struct nod_error err = {""};
	assert_null(nod_source_open("/does/not/exist", &names, &err));
	assert_int_equal(errno, ENOENT);
	assert_string_equal(err.text,
			    "/does/not/exist: cannot be opened: No such file or directory");
	assert_null(nod_source_open("/", &names, &err));
	assert_int_equal(errno, EISDIR);

	char path[] = "/tmp/nodoff-test-XXXXXX";
	int fd = mkstemp(path);
	assert_int_equal(write(fd, "(1.000000) can0 123#11\n", 23), 23);
	struct nod_source *source = nod_source_open(path, &names, &err);
	close(fd);
	unlink(path);
	char *text = events_of(source, &names);
	assert_non_null(strstr(text, "; 1 lines, 1 frames"));
	free(text);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_interfaces_are_numbered_by_first_use),
		cmocka_unit_test(test_every_kind_of_line),
		cmocka_unit_test(test_a_torn_last_line),
		cmocka_unit_test(test_headers),
		cmocka_unit_test(test_bad_drop_counts_are_defects),
		cmocka_unit_test(test_long_lines_are_one_defect),
		cmocka_unit_test(test_the_screen_form),
		cmocka_unit_test(test_what_is_no_capture_is_refused_with_the_reason),
		cmocka_unit_test(test_nothing_but_comments_is_a_silent_log),
		cmocka_unit_test(test_pieces_do_not_matter),
		cmocka_unit_test(test_line_by_line_is_the_same),
		cmocka_unit_test(test_a_failing_read_ends_with_its_reason),
		cmocka_unit_test(test_merging_is_stable_and_keeps_each_order),
		cmocka_unit_test(test_files),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
