/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "frame-bits-model.h"
#include "frame-bits.h"

/* "123#1122", "18FEF100#", "123#R": enough of the usual text form. */
static struct nod_frame frame_of(const char *text)
{
	struct nod_frame f = {0};
	const char *data = strchr(text, '#');

	assert_non_null(data);
	f.id = (uint32_t)strtoul(text, NULL, 16) | (data - text == 8 ? NOD_ID_EXTENDED : 0);
	if (*++data == 'R') {
		f.id |= NOD_ID_REMOTE;
		return f;
	}
	for (; data[0]; data += 2) {
		char hex[3] = {data[0], data[1], 0};
		f.data[f.length++] = (uint8_t)strtoul(hex, NULL, 16);
	}
	return f;
}

/* Calculated from the field lists (include/linux/can/length.h) and CRC-15/CAN
 * (CRC catalogue), by a model that agreed with can-utils canframelen, exact
 * mode, on 200,000 random frames. */
static const struct {
	const char *text;
	unsigned nominal, stuff, crc;
} vectors[] = {
	{"123#", 47, 1, 0x6858},
	{"123#R", 47, 1, 0x1B9D},
	{"000#", 47, 6, 0x0000},
	{"000#0000000000000000", 111, 16, 0x145B},
	{"7FF#FFFFFFFFFFFFFFFF", 111, 15, 0x4C89},
	{"555#AAAAAAAAAAAAAAAA", 111, 1, 0x7DCE},
	{"123#1122334455667788", 111, 1, 0x4237},
	{"078#3C3C3C3C3C3C3C3C", 111, 20, 0x1921},
	{"7DF#02010C0000000000", 111, 12, 0x5649},
	{"7DF#023E800000000000", 111, 13, 0x21E8},
	{"7E0#023E005555555555", 111, 6, 0x5A16},
	{"510#1001000000000000", 111, 13, 0x3909},
	{"12345678#", 67, 2, 0x6C97},
	{"18FEF100#0000000000000000", 131, 16, 0x71B0},
	{"18DB33F1#0201000000000000", 131, 14, 0x41F5},
	{"0CF00400#FFFFFFFFFFFFFFFF", 131, 16, 0x5767},
	{"01F3820F#", 67, 10, 0x1EBF},
};

static void test_exact_lengths(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof(vectors) / sizeof(vectors[0]); i++) {
		struct nod_frame f = frame_of(vectors[i].text);
		struct nod_bits b = nod_bits_of(&f);
		assert_int_equal(b.crc, vectors[i].crc);
		assert_int_equal(b.stuff, vectors[i].stuff);
		assert_int_equal(b.total, vectors[i].nominal + vectors[i].stuff);
		assert_int_equal(nod_frame_bits(&f), b.total);
	}
}

static void test_dominant_bits(void **state)
{
	(void)state;
	/* Calculated from the field lists, with one bit of acknowledgement. */
	static const struct {
		const char *text;
		unsigned bits, dominant;
	} rows[] = {
		{"123#1122334455667788", 112, 61},
		{"000#0000000000000000", 127, 91},
		{"510#1011FFFFFFFFFFFF", 124, 45},
		{"18FEF100#0000000000000000", 147, 96},
	};
	for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++) {
		struct nod_frame f = frame_of(rows[i].text);
		assert_int_equal(nod_bits_of(&f).total, rows[i].bits);
		assert_int_equal(nod_bits_of(&f).dominant, rows[i].dominant);
	}
}

static void test_against_a_bit_by_bit_model(void **state)
{
	(void)state;
	uint64_t seed = 20240607;
	struct wire check = {.last = -1};

	/* The model's own check: CRC catalogue, CRC-15/CAN, check("123456789"). */
	for (const char *c = "123456789"; *c; c++)
		wire_field(&check, (uint32_t)*c, 8, 1);
	assert_int_equal(check.crc, 0x059E);

	for (int i = 0; i < 60000; i++) {
		struct nod_frame f = {.id = random_id(&seed)};
		unsigned length = (unsigned)random_next(&seed) % 9, dlc = length;
		random_data(&seed, &f, length);
		if (random_next(&seed) % 16 == 0)
			f.id |= NOD_ID_REMOTE;
		if (length == 8 && random_next(&seed) % 16 == 0)
			f.raw_dlc = (uint8_t)(dlc = 9 + (unsigned)random_next(&seed) % 7);
		struct wire w = wire_classical(&f, dlc);
		struct nod_bits b = nod_bits_of(&f);
		assert_int_equal(b.total, w.bits);
		assert_int_equal(b.stuff, w.stuff);
		assert_int_equal(b.dominant, w.dominant);
		assert_int_equal(b.crc, w.crc);
		length = f.id & NOD_ID_REMOTE ? 0 : length;
		assert_true(b.stuff <= nod_bits_stuff_bound(f.id & NOD_ID_EXTENDED, length));
	}
}

/* Every length under IDs of both kinds, payloads that stuff much and little. */
static void test_many_are_as_long_as_one_by_one(void **state)
{
	enum { MANY = 100 };
	(void)state;
	uint64_t seed = 97531;
	struct nod_frame frames[MANY] = {0};
	struct nod_bits_line learned[MANY];
	const struct nod_bits_line *lines[MANY];
	uint16_t bits[MANY];

	for (int round = 0; round < 1000; round++) {
		for (unsigned i = 0; i < MANY; i++) {
			uint32_t id = (uint32_t)random_next(&seed);
			frames[i].id = id & 1 ? (id >> 1 & NOD_ID_STANDARD_MASK) >> id % 11
					      : (id >> 3 & NOD_ID_EXTENDED_MASK) | NOD_ID_EXTENDED;
			memset(frames[i].data, 0, 8);
			random_data(&seed, &frames[i], i % 9);
			nod_bits_line_learn(&learned[i], &frames[i]);
			lines[i] = &learned[i];
			assert_true(nod_bits_is_usual(&frames[i]));
			if (i % 2) /* another payload than the one it was learned from */
				random_data(&seed, &frames[i], i % 9);
		}
		nod_bits_walk(lines, frames, MANY, bits);
		for (unsigned i = 0; i < MANY; i++) {
			assert_int_equal(bits[i], wire_classical(&frames[i], i % 9).bits);
			assert_int_equal(bits[i], nod_frame_bits(&frames[i]));
		}
	}
}

static void test_a_head_serves_all_frames_of_an_id(void **state)
{
	(void)state;
	struct nod_frame f = frame_of("18FEF100#0000000000000000");
	struct nod_bits_head head = nod_bits_head(&f);

	assert_int_equal(nod_bits_count(&head, f.data).total, 147);
	memset(f.data, 0xA5, 8);
	assert_int_equal(nod_bits_count(&head, f.data).total, nod_frame_bits(&f));
	assert_int_equal(nod_bits_count(&head, f.data).crc, nod_bits_of(&f).crc);
}

static void test_bounds(void **state)
{
	(void)state;
	/* include/linux/can/length.h (overheads); Davis, Burns, Bril, Lukkien, Real-Time
	 * Systems 35:239-272, 2007 (worst: 55 + 10n, 80 + 10n). */
	static const unsigned bound[9] = {8, 10, 12, 14, 16, 18, 20, 22, 24};
	static const unsigned bound_extended[9] = {13, 15, 17, 19, 21, 23, 25, 27, 29};

	for (unsigned n = 0; n <= 8; n++) {
		assert_int_equal(nod_bits_least(false, n), 47 + 8 * n);
		assert_int_equal(nod_bits_stuff_bound(false, n), bound[n]);
		assert_int_equal(nod_bits_least(true, n), 67 + 8 * n);
		assert_int_equal(nod_bits_stuff_bound(true, n), bound_extended[n]);
	}
}

static void test_an_error_report_takes_no_known_time(void **state)
{
	(void)state;
	struct nod_frame f = frame_of("20000080#0000000000000000");

	f.id = NOD_ID_ERROR | 0x80;
	assert_int_equal(nod_frame_bits(&f), 0);
	f.flags = NOD_FRAME_FD;
	assert_int_equal(nod_frame_bits(&f), 0);
}

static void test_lengths_from_outside_are_bounded(void **state)
{
	(void)state;
	struct nod_frame f = frame_of("123#1122334455667788");

	f.length = 64;
	assert_int_equal(nod_frame_bits(&f), 112);
	f.flags = NOD_FRAME_FD;
	f.length = 255;
	struct nod_frame full = f;
	full.length = 64;
	assert_int_equal(nod_frame_bits(&f), nod_frame_bits(&full));
}

static void test_fd_lengths_of_simple_frames(void **state)
{
	(void)state;
	/* From memory of the field lists of ISO 11898-1:2015; stuff bits counted by hand.
	 * 555#, no BRS: SOF ID RRS IDE FDF res BRS ESI DLC 22, stuff count 4, CRC 17, fixed stuff
	 * 6, delimiter 1, tail 12. Behind FDF, "res BRS ESI DLC" are 7 dominant bits: one stuff
	 * bit. */
	struct nod_frame f = frame_of("555#");
	f.flags = NOD_FRAME_FD;
	struct nod_fd_bits b = nod_fd_bits_of(&f);
	assert_int_equal(b.stuff, 1);
	assert_int_equal(b.nominal, 22 + 1 + 4 + 17 + 6 + 1 + 12);
	assert_int_equal(b.data, 0);

	/* With BRS recessive the five behind it call for a stuff bit after the last of them: the
	 * fixed stuff bit takes its place. */
	f.flags |= NOD_FRAME_BRS;
	b = nod_fd_bits_of(&f);
	assert_int_equal(b.stuff, 0);
	assert_int_equal(b.nominal, 17 + 12);
	assert_int_equal(b.data, 5 + 4 + 17 + 6 + 1);

	/* More than 16 bytes: CRC-21, 7 fixed stuff bits. 20 bytes AA take none of their own;
	 * DLC 1011 neither. */
	memset(f.data, 0xAA, 64);
	f.length = 20;
	b = nod_fd_bits_of(&f);
	assert_int_equal(b.stuff, 0);
	assert_int_equal(b.data, 5 + 160 + 4 + 21 + 7 + 1);
	assert_int_equal(nod_frame_bits(&f), b.nominal + b.data);
}

static void test_fd_against_a_bit_by_bit_model(void **state)
{
	(void)state;
	static const uint8_t lengths[16] = {0, 1, 2, 3, 4, 5, 6, 7, 8, 12, 16, 20, 24, 32, 48, 64};
	uint64_t seed = 42;

	for (int i = 0; i < 20000; i++) {
		struct nod_frame f = {.id = random_id(&seed), .flags = NOD_FRAME_FD};
		unsigned dlc = (unsigned)random_next(&seed) % 16;
		random_data(&seed, &f, lengths[dlc]);
		f.flags |= (uint8_t)(random_next(&seed) & (NOD_FRAME_BRS | NOD_FRAME_ESI));
		struct wire w = wire_fd(&f, dlc);
		struct nod_fd_bits b = nod_fd_bits_of(&f);
		unsigned fixed = lengths[dlc] <= 16 ? 4 + 17 + 6 + 1 : 4 + 21 + 7 + 1;
		assert_int_equal(b.stuff, w.stuff);
		if (f.flags & NOD_FRAME_BRS) {
			assert_int_equal(b.nominal, w.bits + 12);
			assert_int_equal(b.data, w.crc + fixed);
		} else {
			assert_int_equal(b.nominal, w.bits + w.crc + fixed + 12);
			assert_int_equal(b.data, 0);
		}
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_exact_lengths),
		cmocka_unit_test(test_dominant_bits),
		cmocka_unit_test(test_against_a_bit_by_bit_model),
		cmocka_unit_test(test_many_are_as_long_as_one_by_one),
		cmocka_unit_test(test_a_head_serves_all_frames_of_an_id),
		cmocka_unit_test(test_bounds),
		cmocka_unit_test(test_an_error_report_takes_no_known_time),
		cmocka_unit_test(test_lengths_from_outside_are_bounded),
		cmocka_unit_test(test_fd_lengths_of_simple_frames),
		cmocka_unit_test(test_fd_against_a_bit_by_bit_model),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
