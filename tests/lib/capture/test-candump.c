/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "candump.h"

/* The forms are those of can-utils' candump.c and lib.c (log2long, parse_canframe). */

static struct nod_interfaces names;
static struct nod_candump candump;

static int set_up(void **state)
{
	(void)state;
	memset(&names, 0, sizeof(names));
	nod_candump_init(&candump, &names);
	return 0;
}

static struct nod_frame parsed(const char *line)
{
	struct nod_scan scan = nod_scan_line(line, strlen(line));
	struct nod_frame frame = {0};
	if (!nod_candump_parse(&candump, &scan, &frame))
		fail_msg("%s: column %u: %s", line, nod_scan_column(&scan), scan.reason);
	return frame;
}

static void refused(const char *line, unsigned column, const char *reason)
{
	struct nod_scan scan = nod_scan_line(line, strlen(line));
	struct nod_frame frame = {0};
	if (nod_candump_parse(&candump, &scan, &frame))
		fail_msg("%s: taken", line);
	assert_string_equal(scan.reason, reason);
	assert_int_equal(nod_scan_column(&scan), column);
}

static void test_standard_and_extended_ids_differ(void **state)
{
	(void)state;
	struct nod_frame f = parsed("(1700000000.123456) can0 2A0#1122");
	assert_true(f.time.ns == INT64_C(1700000000123456000));
	assert_int_equal(f.id, 0x2A0);
	assert_int_equal(f.length, 2);
	assert_memory_equal(f.data, "\x11\x22\0\0\0\0\0", 8);
	assert_string_equal(names.names[f.interface], "can0");
	assert_int_equal(parsed("(1.000000) can0 000002A0#").id, NOD_ID_EXTENDED | 0x2A0);
	assert_int_equal(parsed("(1.000000) can0 1fffffff#").id, NOD_ID_EXTENDED | 0x1FFFFFFF);
}

static void test_times(void **state)
{
	(void)state;
	assert_true(parsed("(0000000001.000000001) can0 123#").time.ns == 1000000001);
	/* what serial monitors and scripts write: fewer digits, padded seconds */
	assert_true(parsed("(1700000000.25) can0 123#").time.ns == INT64_C(1700000000250000000));
	assert_true(parsed("(    0.450024) can0 123#").time.ns == 450024000);
	assert_true(parsed("(9223372035.999999999) can0 123#").time.ns ==
		    INT64_C(9223372035999999999));
	refused("(1.0000000001) can0 123#", 13, "expected ')' behind 1 to 9 digits of a second");
	refused("(1.) can0 123#", 4, "expected 1 to 9 digits of a second");
	refused("(9223372036.000000) can0 123#", 2, "expected seconds, at most 9223372035");
	refused("(99999999999999999999.000000) can0 123#", 2,
		"expected seconds, at most 9223372035");
	refused("1.000000 can0 123#", 1, "expected a time in parentheses");
	refused("(-1.000000) can0 123#", 2, "expected seconds, at most 9223372035");
}

static void test_interface_names_are_padded(void **state)
{
	(void)state;
	assert_int_equal(parsed("(1.000000)     can0 123#").interface, 0);
	assert_int_equal(parsed("(1.000000) abcdefghijklmno 123#").interface, 1);
	assert_int_equal(parsed("(1.000000) can0 123#").interface, 0);
	refused("(1.000000) abcdefghijklmnop 123#", 12,
		"expected an interface name of 1 to 15 printable characters");
	refused("(1.000000)can0 123#", 11, "expected a blank behind the time");
	refused("(1.000000) can0", 16, "expected a blank and an ID behind the interface");
}

static void test_remote_requests_carry_a_length(void **state)
{
	(void)state;
	struct nod_frame f = parsed("(1.000000) can0 123#R");
	assert_int_equal(f.id, 0x123 | NOD_ID_REMOTE);
	assert_int_equal(f.length, 0);
	assert_int_equal(parsed("(1.000000) can0 123#R0").length, 0);
	assert_int_equal(parsed("(1.000000) can0 7A1#r").id, 0x7A1 | NOD_ID_REMOTE);
	f = parsed("(1.000000) can0 00000123#R7");
	assert_int_equal(f.id, 0x123 | NOD_ID_REMOTE | NOD_ID_EXTENDED);
	assert_int_equal(f.length, 7);
	f = parsed("(1.000000) can0 123#R8_9");
	assert_int_equal(f.length, 8);
	assert_int_equal(f.raw_dlc, 9);
	refused("(1.000000) can0 123#R9", 22, "expected the end of the frame");
	refused("(1.000000) can0 123#R7_9", 23, "a raw DLC belongs to 8 bytes only");
}

static void test_raw_dlcs(void **state)
{
	(void)state;
	struct nod_frame f = parsed("(1.000000) can0 123#1122334455667788_E");
	assert_int_equal(f.raw_dlc, 14);
	assert_int_equal(f.length, 8);
	refused("(1.000000) can0 123#1122334455667788_8", 38, "expected a raw DLC of 9 to F");
	refused("(1.000000) can0 123#1122_E", 25, "a raw DLC belongs to 8 bytes only");
}

static void test_error_reports(void **state)
{
	(void)state;
	struct nod_frame f = parsed("(1.000000) can0 20000080#0000000000000000");
	assert_int_equal(f.id, NOD_ID_ERROR | 0x80);
	assert_true(nod_frame_is_error(&f));
	assert_int_equal(f.length, 8);
	assert_int_equal(parsed("(1.000000) can0 32345678#").id, NOD_ID_ERROR | 0x12345678);
	refused("(1.000000) can0 20000080#R", 26, "an error report cannot be a remote request");
}

static void test_can_fd_with_either_flag_convention(void **state)
{
	(void)state;
	static const char *const digits = "0123";
	char older[] = "(1.000000) can0 123##?1122", newer[] = "(1.000000) can0 123##?1122";
	for (char flags = 0; flags < 4; flags++) {
		older[21] = digits[(int)flags];
		newer[21] = (char)('4' + flags);
		struct nod_frame a = parsed(older), b = parsed(newer);
		assert_int_equal(a.flags, NOD_FRAME_FD | flags);
		assert_int_equal(b.flags, a.flags);
		assert_int_equal(a.length, 2);
	}
	char full[200] = "(1.000000) can0 123##1";
	for (int i = 0; i < 64; i++)
		strcat(full, "A5");
	struct nod_frame f = parsed(full);
	assert_int_equal(f.length, 64);
	assert_int_equal(f.data[63], 0xA5);
	strcat(full, "A5");
	refused(full, 151, "more than 64 bytes of data");
	refused("(1.000000) can0 123##1112233445566778899", 41,
		"a CAN FD frame cannot have this number of bytes");
	refused("(1.000000) can0 123##", 22, "expected the CAN FD flags, one hexadecimal digit");
}

static void test_points_between_bytes(void **state)
{
	(void)state;
	struct nod_frame f = parsed("(1.000000) can0 123#11.22.33");
	assert_int_equal(f.length, 3);
	assert_memory_equal(f.data, "\x11\x22\x33", 3);
	assert_int_equal(parsed("(1.000000) can0 123##011.22.33").length, 3);
}

static void test_direction_markers(void **state)
{
	(void)state;
	assert_int_equal(parsed("(1.000000) can0 123#11 R").flags, NOD_FRAME_RECEIVED);
	assert_int_equal(parsed("(1.000000) can0 123#11 T").flags, NOD_FRAME_SENT);
	assert_int_equal(parsed("(1.000000) can0 123#R T").flags, NOD_FRAME_SENT);
	assert_int_equal(parsed("(1.000000) can0 123##111 T").flags,
			 NOD_FRAME_SENT | NOD_FRAME_FD | NOD_FRAME_BRS);
	assert_int_equal(parsed("(1.000000) can0 123#11  ").flags, 0);
	refused("(1.000000) can0 123#11 X", 24, "expected the end of the frame");
	refused("(1.000000) can0 123#11 RT", 25, "expected the end of the frame");
}

static void test_malformed_frames_say_where_and_why(void **state)
{
	(void)state;
	refused("(1.000000) can0 12#11", 19, "expected an ID of 3 or 8 hexadecimal digits");
	refused("(1.000000) can0 1234#11", 21, "expected an ID of 3 or 8 hexadecimal digits");
	refused("(1.000000) can0 123456789#11", 26, "expected an ID of 3 or 8 hexadecimal digits");
	refused("(1.000000) can0 800#11", 17, "a standard ID is at most 7FF");
	refused("(1.000000) can0 80000000#11", 17, "an extended ID is at most 1FFFFFFF");
	refused("(1.000000) can0 123", 20, "expected '#' behind the ID");
	refused("(1.000000) can0 123#1", 22, "expected the second digit of a byte");
	refused("(1.000000) can0 123#1G", 22, "expected the second digit of a byte");
	refused("(1.000000) can0 123#112233445566778899", 37, "more than 8 bytes of data");
	refused("(1.000000) can0 123#11\x80", 23, "expected the end of the frame");
	refused("(1.000000) can0 45123#81:00:12345678#11", 17, "CAN XL is not supported");
	refused("(1.000000) can0 123#81:00:12345678#11", 17, "CAN XL is not supported");
	refused("", 1, "expected a time in parentheses");
}

/* The quick parser takes a line only when it reads it as the careful one does. */
static void agree(const char *line, bool quick_expected)
{
	char text[2 * NOD_CANDUMP_WINDOW] = "";
	struct nod_scan scan = nod_scan_line(line, strlen(line));
	struct nod_frame careful = {0}, quick = {0};
	bool good = nod_candump_parse(&candump, &scan, &careful);

	strcpy(text, line);
	strcat(text, "\n(1.000000) can0 7FF#FFFFFFFFFFFFFFFF");
	size_t used = nod_candump_parse_one_quickly(&candump, text, &quick);
	assert_int_equal(used != 0, quick_expected);
	if (!used)
		return;
	assert_true(good);
	assert_int_equal(used, strlen(line) + 1);
	assert_true(careful.time.ns == quick.time.ns);
	assert_int_equal(careful.id, quick.id);
	assert_int_equal(careful.length, quick.length);
	assert_int_equal(careful.flags | careful.raw_dlc, quick.flags | quick.raw_dlc);
	assert_int_equal(careful.interface, quick.interface);
	assert_memory_equal(careful.data, quick.data, careful.length > 8 ? careful.length : 8);
}

static void test_the_quick_parser_agrees_on_usual_lines(void **state)
{
	(void)state;
	agree("(1700000000.123456) can0 123#1122", true);
	agree("(1700000000.123456789)     can0 00000123#", true);
	agree("(0000000000.000000) vcan12 1FFFFFFF#0123456789ABCDEF", true);
	agree("(1.999999) c 7ff#aBcDeF01", true);
	agree("(99.000001) can1 000#00", true);
	agree("(1.000000) can0 123#1122_E", false);
	agree("(1.000000) can0 123#112", false);
	agree("(1.000000) can0 123#R", false);
	agree("(1.000000) can0 123##", false);
	agree("(1.000000) can0 123##1112233445566778899", false);
	agree("(1.000000) can0 123##G11", false);
	agree("(1.000000) can0 20000080#00", false);
	agree("(1.000000) can0 800#00", false);
	agree("(1.000000) can0 123#0011223344556677 R", true);
	agree("(1.000000) can0 123#00 T", true);
	agree("(1.000000) can0 123#00 X", false);
	agree("(1.000000) can0 123#00 ", false);
	agree("(1.000000) can0 123##0", true);
	agree("(1.000000) can0 123##711223344556677 R", true);
	agree("(1.000000) can0 123##4112233445566778899AABBCC", true);
	agree("(1.000000) can-body 123#00", true);
	agree("(1.000000) can-chassis-one 123#00", true);
	char full[200] = "(1.000000) can0 123##1";
	for (int i = 0; i < 64; i++)
		strcat(full, "A5");
	agree(full, true);
	strcat(full, "A5");
	agree(full, false);
}

/* A known name stands in the memory of names with zeros behind it. */
static void test_the_quick_parser_takes_no_zero_for_padding(void **state)
{
	(void)state;
	static const char line[] = "(1.000000) can0\0 123#11\n";
	char text[2 * NOD_CANDUMP_WINDOW] = "";
	struct nod_frame frame = {0};

	agree("(1.000000) can0 123#11", true);
	memcpy(text, line, sizeof(line));
	assert_int_equal(nod_candump_parse_one_quickly(&candump, text, &frame), 0);
}

/* Every single-character change of a line: never taken when it is wrong. */
static void test_the_quick_parser_takes_nothing_wrong(void **state)
{
	(void)state;
	static const char *const lines[] = {"(1700000000.123456) can0 12345678#0011223344556677",
					    "(1700000000.123456789) can0 123#00112233 R",
					    "(1700000000.123456) can-chassis 123##100112233 T"};
	for (size_t n = 0; n < 3; n++)
		for (size_t at = 0; at < strlen(lines[n]); at++)
			for (int c = 1; c < 256; c++) {
				char text[2 * NOD_CANDUMP_WINDOW] = "";
				struct nod_frame careful = {0}, quick = {0};
				strcpy(text, lines[n]);
				parsed(text);
				text[at] = (char)c;
				struct nod_scan scan = nod_scan_line(text, strlen(text));
				strcat(text, "\n");
				size_t used = nod_candump_parse_one_quickly(&candump, text, &quick);
				if (!used || c == '\n')
					continue;
				assert_true(nod_candump_parse(&candump, &scan, &careful));
				assert_true(careful.time.ns == quick.time.ns);
				assert_int_equal(careful.id, quick.id);
				assert_int_equal(careful.length, quick.length);
				assert_int_equal(careful.flags, quick.flags);
				assert_memory_equal(careful.data, quick.data, 8);
			}
}

static void test_the_quick_parser_takes_either_line_end(void **state)
{
	(void)state;
	char text[2 * NOD_CANDUMP_WINDOW] = "(1.000000) can0 123#11\r\n";
	struct nod_frame frame;
	parsed("(1.000000) can0 123#11");
	assert_int_equal(nod_candump_parse_one_quickly(&candump, text, &frame), 24);
	assert_int_equal(frame.length, 1);
	strcpy(text, "(1.000000) can0 123#11\r\r\n");
	assert_int_equal(nod_candump_parse_one_quickly(&candump, text, &frame), 0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_setup(test_standard_and_extended_ids_differ, set_up),
		cmocka_unit_test_setup(test_times, set_up),
		cmocka_unit_test_setup(test_interface_names_are_padded, set_up),
		cmocka_unit_test_setup(test_remote_requests_carry_a_length, set_up),
		cmocka_unit_test_setup(test_raw_dlcs, set_up),
		cmocka_unit_test_setup(test_error_reports, set_up),
		cmocka_unit_test_setup(test_can_fd_with_either_flag_convention, set_up),
		cmocka_unit_test_setup(test_points_between_bytes, set_up),
		cmocka_unit_test_setup(test_direction_markers, set_up),
		cmocka_unit_test_setup(test_malformed_frames_say_where_and_why, set_up),
		cmocka_unit_test_setup(test_the_quick_parser_agrees_on_usual_lines, set_up),
		cmocka_unit_test_setup(test_the_quick_parser_takes_no_zero_for_padding, set_up),
		cmocka_unit_test_setup(test_the_quick_parser_takes_nothing_wrong, set_up),
		cmocka_unit_test_setup(test_the_quick_parser_takes_either_line_end, set_up),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
