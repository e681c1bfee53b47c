/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "packet.h"

/* Byte vectors calculated from the description of LINKTYPE_CAN_SOCKETCAN at
 * tcpdump.org, "Link-layer header types". */

static struct nod_frame parsed(const char *bytes, size_t length)
{
	struct nod_frame frame = {0};
	const char *reason;
	if (!nod_packet_parse(&frame, (const uint8_t *)bytes, length, length, &reason))
		fail_msg("%s", reason);
	return frame;
}
#define PARSED(text) parsed(text, sizeof(text) - 1)

static void refused(const char *bytes, size_t captured, size_t original, const char *expected)
{
	struct nod_frame frame = {0};
	const char *reason = "";
	assert_false(nod_packet_parse(&frame, (const uint8_t *)bytes, captured, original, &reason));
	assert_string_equal(reason, expected);
}
#define REFUSED(text, expected) refused(text, sizeof(text) - 1, sizeof(text) - 1, expected)

static void test_classical_frames(void **state)
{
	(void)state;
	struct nod_frame f = PARSED(
		"\x00\x00\x01\x23\x03\x00\x00\x00\x11\x22\x33"); /* 123#112233 */
	assert_int_equal(f.id, 0x123);
	assert_int_equal(f.length, 3);
	assert_int_equal(f.flags, 0);
	assert_memory_equal(f.data, "\x11\x22\x33\0\0\0\0\0", 8);
	f = PARSED("\x98\xDB\x33\xF1\x03\x00\x00\x00\x02\x3E\x80"); /* 18DB33F1#023E80 */
	assert_int_equal(f.id, NOD_ID_EXTENDED | 0x18DB33F1);
	assert_memory_equal(f.data, "\x02\x3E\x80", 3);
	/* padded to struct can_frame */
	f = PARSED("\x00\x00\x01\x23\x03\x00\x00\x00\x11\x22\x33\xEE\xEE\xEE\xEE\xEE");
	assert_memory_equal(f.data, "\x11\x22\x33\0\0\0\0\0", 8);
}

static void test_remote_requests(void **state)
{
	(void)state;
	struct nod_frame f = PARSED("\x40\x00\x01\x23\x08\x00\x00\x00"); /* 123#R8 */
	assert_int_equal(f.id, NOD_ID_REMOTE | 0x123);
	assert_int_equal(f.length, 8);
	assert_int_equal(f.raw_dlc, 0);
}

static void test_error_reports(void **state)
{
	(void)state;
	struct nod_frame f = /* 20000080# and 8 bytes of zero */
		PARSED("\x20\x00\x00\x80\x08\x00\x00\x00\0\0\0\0\0\0\0\0");
	assert_int_equal(f.id, NOD_ID_ERROR | 0x80);
	assert_int_equal(f.length, 8);
}

static void test_can_fd(void **state)
{
	(void)state;
	/* 123##1112233 */
	struct nod_frame f = PARSED("\x00\x00\x01\x23\x03\x05\x00\x00\x11\x22\x33");
	assert_int_equal(f.flags, NOD_FRAME_FD | NOD_FRAME_BRS);
	assert_int_equal(f.length, 3);
	/* struct canfd_frame without the flag, from older kernels */
	char whole[72] = "\x00\x00\x01\x23\x40\x02";
	memset(whole + 8, 0xA5, 64);
	f = parsed(whole, 72);
	assert_int_equal(f.flags, NOD_FRAME_FD | NOD_FRAME_ESI);
	assert_int_equal(f.length, 64);
	assert_int_equal(f.data[63], 0xA5);
	REFUSED("\x00\x00\x01\x23\x09\x04\x00\x00"
		"123456789",
		"a CAN FD frame cannot have this number of bytes");
	REFUSED("\x40\x00\x01\x23\x03\x04\x00\x00"
		"123",
		"a CAN FD frame cannot be a remote request");
}

static void test_raw_dlcs(void **state)
{
	(void)state;
	assert_int_equal(PARSED("\x00\x00\x01\x23\x08\x00\x00\x0E"
				"12345678")
				 .raw_dlc,
			 14);
	assert_int_equal(PARSED("\x00\x00\x01\x23\x02\x00\x00\x0E"
				"12")
				 .raw_dlc,
			 0);
}

static void test_can_xl_is_not_supported(void **state)
{
	(void)state;
	/* 45123#81:00:12345678#11223344556677 */
	REFUSED("\x00\x45\x01\x23\x81\x00\x07\x00\x78\x56\x34\x12\x11\x22\x33\x44\x55\x66\x77",
		"CAN XL is not supported");
}

static void test_what_is_no_frame(void **state)
{
	(void)state;
	REFUSED("\x00\x00\x01\x23\x03\x00\x00", "a packet too short for a CAN frame");
	REFUSED("\x00\x00\x01\x23\x09\x00\x00\x00"
		"123456789",
		"a classical frame has at most 8 bytes");
	REFUSED("\x00\x00\x08\x00\x00\x00\x00\x00", "a standard ID is at most 7FF");
	REFUSED("\x00\x00\x01\x23\x03\x00\x00\x00\x11", "fewer bytes than the frame says it has");
	refused("\x00\x00\x01\x23\x03\x00\x00\x00\x11", 9, 11,
		"only a part of the packet was captured");
	refused("\x00\x00\x01\x23", 4, 16, "only a part of the packet was captured");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_classical_frames),
		cmocka_unit_test(test_remote_requests),
		cmocka_unit_test(test_error_reports),
		cmocka_unit_test(test_can_fd),
		cmocka_unit_test(test_raw_dlcs),
		cmocka_unit_test(test_can_xl_is_not_supported),
		cmocka_unit_test(test_what_is_no_frame),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
