/* SPDX-License-Identifier: MIT */
#include "checksum.h"

static uint8_t byte_of(uint64_t word, unsigned index)
{
	return (uint8_t)(word >> 8 * index);
}

static uint8_t crc8_step(uint8_t crc, uint8_t byte, uint8_t polynomial)
{
	crc ^= byte;
	for (int i = 0; i < 8; i++)
		crc = (uint8_t)(crc << 1 ^ (crc & 0x80 ? polynomial : 0));
	return crc;
}

/* CRC-8 of all bytes but the one at position, start value 0, then of `behind`
 * zero bytes. */
static uint8_t crc8(uint64_t word, unsigned length, unsigned position, uint8_t polynomial,
		    unsigned behind)
{
	uint8_t crc = 0;

	for (unsigned i = 0; i < length; i++)
		if (i != position)
			crc = crc8_step(crc, byte_of(word, i), polynomial);
	while (behind--)
		crc = crc8_step(crc, 0, polynomial);
	return crc;
}

static uint8_t xor_bytes(uint64_t word)
{
	word ^= word >> 32;
	word ^= word >> 16;
	return (uint8_t)(word ^ word >> 8);
}

static uint8_t sum_bytes(uint64_t word, unsigned length)
{
	unsigned sum = 0;

	for (unsigned i = 0; i < length; i++)
		sum += byte_of(word, i);
	return (uint8_t)sum;
}

bool nod_checksum_explains(enum nod_checksum_kind kind, uint64_t before, uint64_t after,
			   unsigned length, unsigned position)
{
	uint64_t diff = before ^ after;
	uint8_t own = byte_of(diff, position);
	uint8_t rise = (uint8_t)(byte_of(after, position) - byte_of(before, position));
	uint8_t all = (uint8_t)(sum_bytes(after, length) - sum_bytes(before, length));

	switch (kind) {
	case NOD_CHECKSUM_XOR:
		return xor_bytes(diff) == 0;
	case NOD_CHECKSUM_SUM:
		return (uint8_t)(all - rise) == rise;
	case NOD_CHECKSUM_COMPLEMENT:
		return all == 0;
	case NOD_CHECKSUM_CRC8_1D:
	case NOD_CHECKSUM_CRC8_1D_ID:
		return crc8(diff, length, position, 0x1D, kind == NOD_CHECKSUM_CRC8_1D_ID) == own;
	case NOD_CHECKSUM_CRC8_2F:
	case NOD_CHECKSUM_CRC8_2F_ID:
		return crc8(diff, length, position, 0x2F, kind == NOD_CHECKSUM_CRC8_2F_ID) == own;
	default:
		return false;
	}
}
