/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "diagnostic.h"

static struct nod_frame frame_of(const char *text)
{
	struct nod_frame f = {0};
	const char *data = strchr(text, '#');

	assert_non_null(data);
	f.id = (uint32_t)strtoul(text, NULL, 16) | (data - text == 8 ? NOD_ID_EXTENDED : 0);
	for (data++; data[0] && f.length < 64; data += 2) {
		char hex[3] = {data[0], data[1], 0};
		f.data[f.length++] = (uint8_t)strtoul(hex, NULL, 16);
	}
	if (f.length > 8)
		f.flags = NOD_FRAME_FD;
	return f;
}

static enum nod_diagnostic_kind kind_of(const char *text)
{
	struct nod_frame f = frame_of(text);

	return nod_diagnostic_classify(&f);
}

static void test_keep_alive(void **state)
{
	(void)state;
	/* Calculated from ISO 14229-1's TesterPresent as tabled in a published article, and
	 * the IDs of an encyclopedia's OBD-II page. */
	assert_int_equal(kind_of("7DF#023E800000000000"), NOD_DIAGNOSTIC_KEEP_ALIVE);
	assert_int_equal(kind_of("7E0#023E00"), NOD_DIAGNOSTIC_KEEP_ALIVE);
	assert_int_equal(kind_of("7E8#027E00"), NOD_DIAGNOSTIC_RESPONSE);
	assert_int_equal(kind_of("18DB33F1#023E80"), NOD_DIAGNOSTIC_KEEP_ALIVE);
	assert_int_equal(kind_of("18DA10F1#023E00"), NOD_DIAGNOSTIC_KEEP_ALIVE);
	assert_int_equal(kind_of("18DAF110#027E00"), NOD_DIAGNOSTIC_RESPONSE);
}

static void test_requests_and_answers(void **state)
{
	(void)state;
	assert_int_equal(kind_of("7DF#02010C0000000000"), NOD_DIAGNOSTIC_FUNCTIONAL);
	assert_int_equal(kind_of("18DB33F1#0201000000000000"), NOD_DIAGNOSTIC_FUNCTIONAL);
	assert_int_equal(kind_of("7E0#0322F190AAAAAAAA"), NOD_DIAGNOSTIC_PHYSICAL);
	assert_int_equal(kind_of("7E8#100A62F190414243"), NOD_DIAGNOSTIC_RESPONSE);
	assert_int_equal(kind_of("7E8#037F2231AAAAAAAA"), NOD_DIAGNOSTIC_RESPONSE);
	assert_int_equal(kind_of("7E7#023E01"), NOD_DIAGNOSTIC_PHYSICAL);
	/* A published article on ISO-TP: first frame of 10 bytes, flow control. The article has
	 * the answers' ID on the first frame and service 43. */
	assert_int_equal(kind_of("18DAF100#100A4304203F0426"), NOD_DIAGNOSTIC_RESPONSE);
	assert_int_equal(kind_of("18DA00F1#30000AFFFFFFFFFF"), NOD_DIAGNOSTIC_PHYSICAL);
	assert_true(nod_diagnostic_is_request(NOD_DIAGNOSTIC_KEEP_ALIVE));
	assert_false(nod_diagnostic_is_request(NOD_DIAGNOSTIC_RESPONSE));
	assert_false(nod_diagnostic_is_request(NOD_DIAGNOSTIC_NONE));
}

static void test_what_only_looks_like_it_is_not_taken(void **state)
{
	(void)state;
	static const char *const others[] = {
		"7E0#FFFFFFFFFFFFFFFF", /* no transport protocol frame */
		"7E0#0000000000000000", /* single frame of length 0 */
		"7E0#07010203",         /* longer than the frame */
		"7E0#08010203040506",
		"7E0#1005010203040506", /* first frame of what a single frame could carry */
		"7E0#1008010203",       /* a first frame is full */
		"7E0#33000000",         /* flow status 3 */
		"7E0#3000",
		"7E0#40",
		"7E0#",
		"7E0#0262F1", /* an answer's service from a tester */
		"7E8#0222F1", /* a request's service from a module */
		"7DF#300000", /* nothing but single frames can go to all */
		"7DE#023E80", /* other IDs */
		"7F0#023E80",
		"000007DF#023E80", /* 29-bit */
		"18DA10F2#023E80", /* neither end is the tester */
		"18DBF133#023E80",
		"18DAF1F1#023E80",
		"1CDA10F1#023E80", /* another priority */
	};
	for (size_t i = 0; i < sizeof(others) / sizeof(others[0]); i++)
		assert_int_equal(kind_of(others[i]), NOD_DIAGNOSTIC_NONE);
	struct nod_frame f = frame_of("7DF#023E80");
	f.id |= NOD_ID_REMOTE;
	assert_int_equal(nod_diagnostic_classify(&f), NOD_DIAGNOSTIC_NONE);
	f.id = NOD_ID_ERROR | 0x7DF;
	assert_int_equal(nod_diagnostic_classify(&f), NOD_DIAGNOSTIC_NONE);
}

static void test_transport_frames(void **state)
{
	(void)state;
	struct nod_frame f = frame_of("18DAF100#100A4304203F0426");
	struct nod_isotp tp = nod_isotp_decode(&f);

	assert_int_equal(tp.kind, NOD_ISOTP_FIRST);
	assert_int_equal(tp.length, 10);
	assert_int_equal(tp.start, 2);
	f = frame_of("7E8#2141424344454647");
	tp = nod_isotp_decode(&f);
	assert_int_equal(tp.kind, NOD_ISOTP_CONSECUTIVE);
	assert_int_equal(tp.number, 1);
	f = frame_of("7E0#000A22F190112233445566778899AABB"); /* CAN FD, long single frame */
	tp = nod_isotp_decode(&f);
	assert_int_equal(tp.kind, NOD_ISOTP_SINGLE);
	assert_int_equal(tp.length, 10);
	assert_int_equal(tp.start, 2);
	f = frame_of("7E8#1000000010005A02"); /* 4096 bytes: the 32-bit length */
	tp = nod_isotp_decode(&f);
	assert_int_equal(tp.kind, NOD_ISOTP_FIRST);
	assert_int_equal(tp.length, 4096);
	f = frame_of("7E8#1000000000FF5A02");
	assert_int_equal(nod_isotp_decode(&f).kind, NOD_ISOTP_INVALID);
}

static void test_the_quick_test_passes_all_that_count(void **state)
{
	(void)state;
	struct nod_frame f = frame_of("000#023E80");

	for (uint32_t id = 0; id < 0x800; id++) {
		f.id = id;
		bool any = nod_diagnostic_classify(&f) != NOD_DIAGNOSTIC_NONE;
		assert_true(nod_diagnostic_may_be(id) || !any);
		assert_int_equal(any, id == 0x7DF || (id >= 0x7E0 && id <= 0x7E7));
	}
	assert_true(nod_diagnostic_may_be(NOD_ID_EXTENDED | 0x18DB33F1));
	assert_true(nod_diagnostic_may_be(NOD_ID_EXTENDED | 0x18DAF110));
	assert_false(nod_diagnostic_may_be(NOD_ID_EXTENDED | 0x7DF));
	assert_false(nod_diagnostic_may_be(NOD_ID_EXTENDED | 0x18FEF100));
}

/* ISO 14229-1's TesterPresent under IDs of the maker's choice, alone or behind an address. */
static void test_a_tester_says_that_it_is_there_under_any_id(void **state)
{
	(void)state;
	static const char *const yes[] = {"714#023E800000000000", "714#023E80",
					  "6F1#40023E80FFFFFFFF", "740#013E555555555555",
					  "6F1#12013E00000000",   "7DF#023E00AAAAAAAAAA"};
	static const char *const no[] = {"714#023E810000000000",
					 "714#023E800000000001",
					 "714#033E800000000000",
					 "714#02",
					 "714#",
					 "714#023E",
					 "714#027E000000000000",
					 "714#0000023E80000000"};

	for (size_t i = 0; i < sizeof(yes) / sizeof(yes[0]); i++) {
		struct nod_frame f = frame_of(yes[i]);
		assert_true(nod_diagnostic_is_presence(&f));
	}
	for (size_t i = 0; i < sizeof(no) / sizeof(no[0]); i++) {
		struct nod_frame f = frame_of(no[i]);
		assert_false(nod_diagnostic_is_presence(&f));
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_keep_alive),
		cmocka_unit_test(test_requests_and_answers),
		cmocka_unit_test(test_a_tester_says_that_it_is_there_under_any_id),
		cmocka_unit_test(test_what_only_looks_like_it_is_not_taken),
		cmocka_unit_test(test_transport_frames),
		cmocka_unit_test(test_the_quick_test_passes_all_that_count),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
