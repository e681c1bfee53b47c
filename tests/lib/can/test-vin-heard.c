/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "vin-heard.h"

/* Invented; they have the form of one. */
#define VIN "ZZZAB12C0XK004711"
#define OTHER "ZZZAB12C0XK008155"

static struct nod_vin_heard heard;

static void take(uint32_t id, unsigned interface, const char *bytes, size_t length)
{
	struct nod_frame frame = {
		.id = id, .interface = (uint8_t)interface, .length = (uint8_t)length};

	memcpy(frame.data, bytes, length);
	nod_vin_heard_take(&heard, &frame);
}

/* "10 14 49 02 01" and three characters, then "21" and "22" with seven each: as the example of an
 * answer with a VIN goes in ISO 15765-4 (from memory). */
static void answer(uint32_t id, const char *header, const char *vin)
{
	char bytes[9] = "\x10\x14";

	memcpy(bytes + 2, header, 3);
	memcpy(bytes + 5, vin, 3);
	take(id, 0, bytes, 8);
	bytes[0] = 0x21;
	memcpy(bytes + 1, vin + 3, 7);
	take(id, 0, bytes, 8);
	bytes[0] = 0x22;
	memcpy(bytes + 1, vin + 10, 7);
	take(id, 0, bytes, 8);
}

static int begin(void **state)
{
	(void)state;
	memset(&heard, 0, sizeof(heard));
	return 0;
}

static void test_nothing_heard(void **state)
{
	(void)state;
	assert_null(nod_vin_heard_text(&heard));
	take(0x100, 0, "\x10\x14\x49\x02\x01" VIN, 8);
	assert_null(nod_vin_heard_text(&heard));
}

static void test_service_09(void **state)
{
	(void)state;
	answer(0x7E8, "\x49\x02\x01", VIN);
	assert_string_equal(nod_vin_heard_text(&heard), VIN);
}

static void test_identifier_f190_from_any_id(void **state)
{
	(void)state;
	answer(NOD_ID_EXTENDED | 0x18DAF110, "\x62\xF1\x90", VIN);
	assert_string_equal(nod_vin_heard_text(&heard), VIN);
}

static void test_in_one_frame_of_can_fd(void **state)
{
	(void)state;
	take(0x7E8, 0, "\x00\x14\x62\xF1\x90" VIN "\xCC\xCC", 24);
	assert_string_equal(nod_vin_heard_text(&heard), VIN);
}

/* Two modules answer at the same time, and other traffic goes on between. */
static void test_interleaved(void **state)
{
	(void)state;
	take(0x7E8, 0, "\x10\x14\x49\x02\x01ZZZ", 8);
	take(0x7E9, 0, "\x10\x14\x49\x02\x01ZZZ", 8);
	take(0x7E0, 0, "\x30\x00\x00", 3);
	take(0x7E8, 1, "\x21XXXXXXX", 8); /* another network */
	take(0x7E8, 0,
	     "\x21"
	     "AB12C0X",
	     8);
	take(0x7E9, 0,
	     "\x21"
	     "AB12C0X",
	     8);
	take(0x7E9, 0, "\x22K004711", 8);
	take(0x7E8, 0, "\x22K004711", 8);
	assert_string_equal(nod_vin_heard_text(&heard), VIN);
	assert_int_equal(heard.counts[0], 2);
	assert_int_equal(heard.open, 0);
}

static void test_a_lost_frame(void **state)
{
	(void)state;
	take(0x7E8, 0, "\x10\x14\x49\x02\x01ZZZ", 8);
	take(0x7E8, 0, "\x22K004711", 8);
	take(0x7E8, 0,
	     "\x21"
	     "AB12C0X",
	     8);
	take(0x7E8, 0, "\x22K004711", 8);
	assert_null(nod_vin_heard_text(&heard));
}

static void test_another_answer_of_that_length(void **state)
{
	(void)state;
	answer(0x7E8, "\x62\xF1\x8C", VIN);                 /* a serial number */
	answer(0x7E8, "\x49\x02\x01", "ZZZAB12C0XK0047Q1"); /* no Q in a VIN */
	answer(0x7E8, "\x49\x02\x01", "00000000000000000"); /* never written */
	assert_null(nod_vin_heard_text(&heard));
}

static void test_what_most_say_counts(void **state)
{
	(void)state;
	answer(0x7E8, "\x49\x02\x01", OTHER);
	answer(0x7E9, "\x49\x02\x01", VIN);
	assert_null(nod_vin_heard_text(&heard));
	answer(0x7EA, "\x49\x02\x01", VIN);
	assert_string_equal(nod_vin_heard_text(&heard), VIN);
}

/* Ever new beginnings, none of which goes on. */
static void test_no_more_than_there_is_room_for(void **state)
{
	(void)state;
	for (uint32_t id = 0; id < 0x7FF; id++)
		take(id, 0, "\x10\x14\x49\x02\x01ZZZ", 8);
	assert_int_equal(heard.open, NOD_VIN_ANSWERS);
	answer(0x7E8, "\x49\x02\x01", VIN);
	assert_string_equal(nod_vin_heard_text(&heard), VIN);
}

/* TP.CM_BAM for 18 bytes in three packets of PGN FEEC, then TP.DT 1 to 3. */
static void test_j1939(void **state)
{
	(void)state;
	take(NOD_ID_EXTENDED | 0x18ECFF00, 0, "\x20\x12\x00\x03\xFF\xEC\xFE\x00", 8);
	take(NOD_ID_EXTENDED | 0x18EBFF00, 0,
	     "\x01"
	     "ZZZAB12",
	     8);
	take(NOD_ID_EXTENDED | 0x18EBFF03, 0,
	     "\x02"
	     "xxxxxxx",
	     8);
	take(NOD_ID_EXTENDED | 0x18EBFF00, 0,
	     "\x02"
	     "C0XK004",
	     8);
	take(NOD_ID_EXTENDED | 0x18EBFF00, 0,
	     "\x03"
	     "711*\xFF\xFF\xFF",
	     8);
	assert_string_equal(nod_vin_heard_text(&heard), VIN);
}

static void test_in_what_a_person_wrote(void **state)
{
	(void)state;
	char vin[NOD_VIN_LENGTH + 1];
	assert_true(nod_vin_find_text(vin, VIN));
	assert_string_equal(vin, VIN);
	assert_true(nod_vin_find_text(vin, "estate, VIN: " OTHER "."));
	assert_string_equal(vin, OTHER);
	assert_false(nod_vin_find_text(vin, VIN "0"));
	assert_string_equal(vin, "");
	assert_false(nod_vin_find_text(vin, "order 20261128000000001"));
	assert_false(nod_vin_find_text(vin, ""));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_setup(test_nothing_heard, begin),
		cmocka_unit_test_setup(test_service_09, begin),
		cmocka_unit_test_setup(test_identifier_f190_from_any_id, begin),
		cmocka_unit_test_setup(test_in_one_frame_of_can_fd, begin),
		cmocka_unit_test_setup(test_interleaved, begin),
		cmocka_unit_test_setup(test_a_lost_frame, begin),
		cmocka_unit_test_setup(test_another_answer_of_that_length, begin),
		cmocka_unit_test_setup(test_what_most_say_counts, begin),
		cmocka_unit_test_setup(test_no_more_than_there_is_room_for, begin),
		cmocka_unit_test_setup(test_j1939, begin),
		cmocka_unit_test(test_in_what_a_person_wrote),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
