/* SPDX-License-Identifier: MIT */
/* Checksums are found, whatever their kind and place. */
#include "payload-sender.h"

static void check_checksum(enum nod_checksum_kind kind, unsigned length, bool last, bool analog)
{
	struct sender s = sender_new(length);
	unsigned at = last ? length - 1 : 0, switched = 0;
	uint64_t late = 0;

	for (unsigned i = 0; i < 600; i++) {
		s.frame.data[1] = (uint8_t)(0xA0 | i % 16);
		s.frame.data[2] = 0x6B; /* makes sums carry, which tells them from XOR */
		if (analog)
			s.frame.data[2] = (uint8_t)(96 + random_next(&s) % 8);
		s.frame.data[3] = i >= 500 ? 0x04 : 0;
		fill_checksum(&s, kind, at);
		uint64_t real = send(&s);
		switched += real >> 24 & 0xFF ? 1 : 0;
		late |= i >= 64 ? real : 0;
	}
	struct nod_payload_roles r = roles_of(&s);
	if (kind == NOD_CHECKSUM_CRC8_2F_LIST && !analog)
		kind = NOD_CHECKSUM_LIKE; /* nothing changes but the counter: no kind can be told */
	assert_int_equal(r.checksum_kind, kind);
	assert_int_equal(r.checksum_byte, at);
	if (kind == NOD_CHECKSUM_LIKE && !analog) { /* only bits that ever change are known to be */
		assert_true((r.checksum & ~(UINT64_C(0xFF) << 8 * at)) == 0);
		nod_payload_clear(&s.payload);
		return;
	}
	assert_true(r.checksum == UINT64_C(0xFF) << 8 * at);
	assert_true(r.counter == 0x0F00);
	assert_int_equal(switched, 1);
	assert_true((late & ~UINT64_C(0x04070000)) == 0);
	nod_payload_clear(&s.payload);
}

static void test_checksums(void **state)
{
	(void)state;
	for (int kind = NOD_CHECKSUM_XOR; kind <= NOD_CHECKSUM_LIKE; kind++)
		for (int variant = 0; variant < 4; variant++) {
			if (kind == NOD_CHECKSUM_CRC8_2F_LIST && variant & 1)
				continue; /* in byte 0 by definition */
			check_checksum((enum nod_checksum_kind)kind, 8, variant & 1, variant & 2);
			check_checksum((enum nod_checksum_kind)kind, 5, variant & 1, variant & 2);
		}
}

static void test_the_crc_against_catalogue_values(void **state)
{
	(void)state;
	/* The test's own CRC, and through it the above: CRC catalogue, CRC-8/SAE-J1850 (1D,
	 * start FF, xorout FF) check 4B; CRC-8/AUTOSAR (2F, same) check DF. From memory. */
	assert_int_equal(crc8((const uint8_t *)"123456789", 9, 0x1D, 0xFF) ^ 0xFF, 0x4B);
	assert_int_equal(crc8((const uint8_t *)"123456789", 9, 0x2F, 0xFF) ^ 0xFF, 0xDF);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_checksums),
		cmocka_unit_test(test_the_crc_against_catalogue_values),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
