/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "console.h"

/* The forms are those of can-utils' candump.c and lib.c (fprint_long_canframe),
 * the one with {} from memory. */

static struct nod_interfaces names;

static struct nod_frame parsed(const char *line)
{
	struct nod_scan scan = nod_scan_line(line, strlen(line));
	struct nod_frame frame = {0};
	if (!nod_console_parse(&scan, &names, &frame))
		fail_msg("%s: column %u: %s", line, nod_scan_column(&scan), scan.reason);
	return frame;
}

static void refused(const char *line, unsigned column, const char *reason)
{
	struct nod_scan scan = nod_scan_line(line, strlen(line));
	struct nod_frame frame = {0};
	if (nod_console_parse(&scan, &names, &frame))
		fail_msg("%s: taken", line);
	assert_string_equal(scan.reason, reason);
	assert_int_equal(nod_scan_column(&scan), column);
}

static void test_plain_frames(void **state)
{
	(void)state;
	struct nod_frame f = parsed(" (1700000000.123456)  can0  123   [2]  11 22");
	assert_true(f.time.ns == INT64_C(1700000000123456000));
	assert_int_equal(f.id, 0x123);
	assert_int_equal(f.length, 2);
	assert_int_equal(f.flags, 0);
	assert_memory_equal(f.data, "\x11\x22\0\0\0\0\0", 8);
	f = parsed("(12.345678) can0 123 [2] 11 22");
	assert_true(f.time.ns == INT64_C(12345678000));
	f = parsed("(1.000000)  can0  00000123   [0] ");
	assert_int_equal(f.id, NOD_ID_EXTENDED | 0x123);
	assert_int_equal(f.length, 0);
}

static void test_dates(void **state)
{
	(void)state;
	/* 1,700,000,000 s of UNIX time: date -u -d @1700000000 */
	assert_true(parsed("(2023-11-14 22:13:20.123456)  can0  123   [0]").time.ns ==
		    INT64_C(1700000000123456000));
	refused("(2023-13-14 22:13:20.123456)  can0  123   [0]", 21,
		"there is no such date or time of day");
	refused("(1969-12-31 23:59:59.999999)  can0  123   [0]", 21,
		"there is no such date or time of day");
	refused("(2023-11-14T22:13:20.123456)  can0  123   [0]", 12,
		"expected a date as 2023-11-14 22:13:20");
}

static void test_direction_and_flag_columns(void **state)
{
	(void)state;
	assert_int_equal(parsed("(1.000000)  can0  RX - -  123   [1]  11").flags,
			 NOD_FRAME_RECEIVED);
	assert_int_equal(parsed("(1.000000)  can0  TX - -  123   [1]  11").flags, NOD_FRAME_SENT);
	assert_int_equal(parsed("(1.000000)  can0  RX B E  123  [01]  11").flags,
			 NOD_FRAME_RECEIVED | NOD_FRAME_FD | NOD_FRAME_BRS | NOD_FRAME_ESI);
	assert_int_equal(parsed("(1.000000)  can0  RX B -  123  [01]  11").flags,
			 NOD_FRAME_RECEIVED | NOD_FRAME_FD | NOD_FRAME_BRS);
	refused("(1.000000)  can0  RX X -  123  [01]  11", 22, "expected the flag 'B' or '-'");
}

static void test_can_fd(void **state)
{
	(void)state;
	char line[300] = "(1.000000)  can0  123  [64] ";
	for (int i = 0; i < 64; i++)
		strcat(line, " 5A");
	struct nod_frame f = parsed(line);
	assert_int_equal(f.length, 64);
	assert_int_equal(f.flags, NOD_FRAME_FD);
	assert_int_equal(f.data[63], 0x5A);
	assert_int_equal(parsed("(1.000000)  can0  123  [00] ").flags, NOD_FRAME_FD);
	refused("(1.000000)  can0  123  [09]  11", 27,
		"a CAN FD frame cannot have this number of bytes");
	refused("(1.000000)  can0  123  [65]  11", 25, "expected a number of bytes up to 64");
	refused("(1.000000)  can0  123   [9]  11", 27, "a classical frame has at most 8 bytes");
}

static void test_remote_requests_and_error_reports(void **state)
{
	(void)state;
	struct nod_frame f = parsed("(1.000000)  can0  123   [4]  remote request");
	assert_int_equal(f.id, 0x123 | NOD_ID_REMOTE);
	assert_int_equal(f.length, 4);
	f = parsed("(1.000000)  can0  20000080   [8]  00 00 00 00 00 00 00 01   ERRORFRAME");
	assert_int_equal(f.id, NOD_ID_ERROR | 0x80);
	assert_int_equal(f.data[7], 1);
	refused("(1.000000)  can0  123   [1]  00   ERRORFRAME", 35,
		"expected the end of the line behind the bytes");
}

static void test_raw_dlcs(void **state)
{
	(void)state;
	struct nod_frame f = parsed("(1.000000)  can0  123   {E}  11 22 33 44 55 66 77 88");
	assert_int_equal(f.length, 8);
	assert_int_equal(f.raw_dlc, 14);
	f = parsed("(1.000000)  can0  123   {2}  11 22");
	assert_int_equal(f.length, 2);
	assert_int_equal(f.raw_dlc, 0);
}

static void test_characters_and_swapped_bytes(void **state)
{
	(void)state;
	struct nod_frame f = parsed("(1.000000)  can0  123   [2]  27 20                     '' '");
	assert_memory_equal(f.data, "\x27\x20", 2);
	f = parsed("(1.000000)  can0  123   [3]  33`22`11");
	assert_memory_equal(f.data, "\x11\x22\x33", 3);
	f = parsed("(1.000000)  can0  123   [3]  33`22`11                  `3\"..`");
	assert_memory_equal(f.data, "\x11\x22\x33", 3);
}

static void test_bytes_must_be_as_many_as_stated(void **state)
{
	(void)state;
	refused("(1.000000)  can0  123   [3]  11 22", 35,
		"expected as many bytes as the brackets say");
	refused("(1.000000)  can0  123   [1]  11 22", 33,
		"expected the end of the line behind the bytes");
	refused("(1.000000)  can0  123   [1]  00010001", 32,
		"expected the end of the line behind the bytes");
}

static void test_recognition(void **state)
{
	(void)state;
	static const char *const yes[] = {"  can0  123   [2]  11 22", "can0 12345678 [0]",
					  "  can0  RX - -  123   {2}  11 22"};
	static const char *const no[] = {
		"", "can0", "can0 123#1122", "can0 12 [2]", "see item 123 [2]", "can0 123 2"};
	for (size_t i = 0; i < sizeof(yes) / sizeof(yes[0]); i++)
		assert_true(nod_console_recognise(nod_scan_line(yes[i], strlen(yes[i]))));
	for (size_t i = 0; i < sizeof(no) / sizeof(no[0]); i++)
		assert_false(nod_console_recognise(nod_scan_line(no[i], strlen(no[i]))));
}

static enum nod_console_verdict verdict(const int *ms, size_t count)
{
	struct nod_console_run run = {0};
	for (size_t i = 0; i < count; i++)
		nod_console_run_take(&run, (nod_time){ms[i] * NOD_NS_PER_MS});
	return nod_console_run_verdict(&run);
}
#define VERDICT(...) \
	verdict((const int[]){__VA_ARGS__}, sizeof((const int[]){__VA_ARGS__}) / sizeof(int))

static void test_differences_are_told_from_times(void **state)
{
	(void)state;
	assert_int_equal(VERDICT(0, 10, 20, 30, 41, 50, 60, 70, 80, 90), NOD_CONSOLE_FROM_ZERO);
	/* a recorder that merges two networks */
	assert_int_equal(VERDICT(0, 10, 8, 20, 30, 28, 40, 50, 60, 70), NOD_CONSOLE_FROM_ZERO);
	assert_int_equal(VERDICT(0, 10, 10, 11, 10, 9, 10, 10, 11, 9), NOD_CONSOLE_DIFFERENCES);
	assert_int_equal(VERDICT(0, 10, 10, 10, 10, 10, 10, 10, 10, 10), NOD_CONSOLE_DIFFERENCES);
	/* a cycle of growing pauses */
	assert_int_equal(VERDICT(0, 1, 2, 3, 4, 5, 1, 2, 3, 4, 5, 1, 2, 3, 4, 5, 1, 2),
			 NOD_CONSOLE_DIFFERENCES);
	/* one long pause at the end */
	assert_int_equal(VERDICT(0, 10, 11, 10, 9, 10, 10, 11, 9, 5000), NOD_CONSOLE_DIFFERENCES);
	assert_int_equal(VERDICT(0, 10, 9), NOD_CONSOLE_UNKNOWN);
	assert_int_equal(VERDICT(0, 10, 20), NOD_CONSOLE_FROM_ZERO);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_plain_frames),
		cmocka_unit_test(test_dates),
		cmocka_unit_test(test_direction_and_flag_columns),
		cmocka_unit_test(test_can_fd),
		cmocka_unit_test(test_remote_requests_and_error_reports),
		cmocka_unit_test(test_raw_dlcs),
		cmocka_unit_test(test_characters_and_swapped_bytes),
		cmocka_unit_test(test_bytes_must_be_as_many_as_stated),
		cmocka_unit_test(test_recognition),
		cmocka_unit_test(test_differences_are_told_from_times),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
