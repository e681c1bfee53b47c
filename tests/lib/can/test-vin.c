/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "vin.h"

/* Invented; it has the form of one, with a wrong check digit. */
#define VIN "ZZZAB12C0XK004711"

struct line {
	uint32_t id;
	const char *bytes; /* '.': 01h, '~': FFh; else the character */
};

static struct nod_frame frame_of(const struct line *line)
{
	struct nod_frame frame = {.id = line->id, .length = (uint8_t)strlen(line->bytes)};

	for (unsigned i = 0; i < frame.length; i++) {
		char c = line->bytes[i];
		frame.data[i] = c == '.' ? 1 : c == '~' ? 0xFF : (uint8_t)c;
	}
	return frame;
}

/* Runs both passes and compares what comes out; "" keeps a frame as it is. */
static void check(const struct line *lines, size_t count, const char *const *expected, size_t found)
{
	struct nod_vin_finder *finder = nod_vin_finder_new();

	for (size_t i = 0; i < count; i++) {
		struct nod_frame frame = frame_of(&lines[i]);
		assert_int_equal(nod_vin_finder_feed(finder, &frame), 0);
	}
	assert_int_equal(nod_vin_finder_finish(finder), found);
	for (size_t i = 0; i < count; i++) {
		struct line after = {lines[i].id, *expected[i] ? expected[i] : lines[i].bytes};
		struct nod_frame frame = frame_of(&lines[i]), wanted = frame_of(&after);
		nod_vin_mask_frame(finder, &frame);
		assert_memory_equal(frame.data, wanted.data, frame.length);
	}
	nod_vin_finder_free(finder);
}

/* ISO 15765-2 transport of the answer to mode 09 PID 02 (SAE J1979): a first
 * frame 10 14 49 02 01 and consecutive frames 21, 22; other traffic between. */
static void test_transport_frames(void **state)
{
	(void)state;
	static const struct line lines[] = {{0x7E8, ".....ZZZ"},  {0x100, "!K004711"},
					    {0x7E8, "!AB12C0X"},  {0x7E0, "0......."},
					    {0x7E8, "\"K004711"}, {0x7E8, "..A....."}};
	static const char *const expected[] = {".....XXX", "", "!XXXXXXX", "", "\"XXXXXXX", ""};

	check(lines, 6, expected, 3);
}

/* Broadcast in parts with a number in front that is itself of the alphabet,
 * again and again, and what remains of a part is kept. */
static void test_broadcast_in_parts(void **state)
{
	(void)state;
	static const struct line lines[] = {{0x40A, ".ZZZAB12"}, {0x40A, "~C0XK004"},
					    {0x40A, "1711~~~~"}, {0x40A, ".ZZZAB12"},
					    {0x40A, "~C0XK004"}, {0x40A, "1711~~~~"}};
	static const char *const expected[] = {".XXXXXXX", "~XXXXXXX", "1XXX~~~~",
					       ".XXXXXXX", "~XXXXXXX", "1XXX~~~~"};

	check(lines, 6, expected, 6);
}

static void test_without_a_number_and_in_one_frame(void **state)
{
	(void)state;
	static const struct line lines[] = {{0x500, "ZZZAB12C"},
					    {0x500, "0XK00471"},
					    {0x500, "1~~~~~~~"},
					    {0x600, "..ZZZAB12C0XK004711..ABC"}};
	static const char *const expected[] = {"XXXXXXXX", "XXXXXXXX", "X~~~~~~~",
					       "..XXXXXXXXXXXXXXXXX..ABC"};

	check(lines, 4, expected, 4);
}

static void test_what_is_none(void **state)
{
	(void)state;
	/* clang-format off */
	static const struct line lines[] = {
		{0x500, "UUUUUUUU"}, {0x500, "UUUUUUUU"}, {0x500, "UUUUUUUU"}, /* padding 55h */
		{0x501, "ABCDEFGH"}, {0x501, "JKLMNPRS"}, {0x501, "TUVWXYZA"}, /* no digits */
		{0x502, "01234567"}, {0x502, "89012345"}, {0x502, "67890123"}, /* no letter */
		{0x503, "ZZZAB12C"}, {0x504, "0XK00471"}, {0x503, "~1......"}, /* two IDs */
		{0x505 | NOD_ID_ERROR, "ZZZAB12C"}, {0x505 | NOD_ID_ERROR, "0XK00471"}};
	/* clang-format on */
	static const char *const expected[] = {"", "", "", "", "", "", "",
					       "", "", "", "", "", "", ""};

	check(lines, 14, expected, 0);
}

static void test_text(void **state)
{
	(void)state;
	char text[] = "car " VIN ", not ABCDEFGHJKLMNPRSTUV; (" VIN ")";

	assert_int_equal(nod_vin_mask_text(text), 2);
	assert_string_equal(text, "car XXXXXXXXXXXXXXXXX, not ABCDEFGHJKLMNPRSTUV; "
				  "(XXXXXXXXXXXXXXXXX)");
	assert_int_equal(nod_vin_mask_text(text), 0);
}

static void test_many_ids(void **state)
{
	(void)state;
	struct nod_vin_finder *finder = nod_vin_finder_new();
	const char *parts[] = {".ZZZAB12", ".C0XK004", ".711~~~~"};

	for (int part = 0; part < 3; part++)
		for (uint32_t id = 0; id < 2000; id++) {
			struct line line = {id | NOD_ID_EXTENDED, parts[part]};
			struct nod_frame frame = frame_of(&line);
			assert_int_equal(nod_vin_finder_feed(finder, &frame), 0);
		}
	assert_int_equal(nod_vin_finder_finish(finder), 6000);
	nod_vin_finder_free(finder);
	nod_vin_finder_free(NULL);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_transport_frames),
		cmocka_unit_test(test_broadcast_in_parts),
		cmocka_unit_test(test_without_a_number_and_in_one_frame),
		cmocka_unit_test(test_what_is_none),
		cmocka_unit_test(test_text),
		cmocka_unit_test(test_many_ids),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
