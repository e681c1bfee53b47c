/* SPDX-License-Identifier: MIT */
/* The learning phase of payload.c: which bits count, which check. Internal. */
#ifndef NOD_PAYLOAD_LEARNING_H
#define NOD_PAYLOAD_LEARNING_H

#include <stdbool.h>
#include <stdint.h>

#include "checksum.h"

/* Changed frames that decide for good. Chosen: four wraps of the usual 4-bit
 * counter; six seconds of a message that comes ten times a second. */
#define NOD_LEARNING_FRAMES 64

/* The first look: without any exception. Chosen: random bits count through 8
 * frames once in a thousand messages, and fit a checksum never. */
#define NOD_LEARNING_FIRST 8

/* From here on exceptions are allowed for. */
#define NOD_LEARNING_LENIENT 16

/* Counts up to 127. */
#define NOD_LEARNING_PLANES 7

#define NOD_LEARNING_DIFFERENCES 4
#define NOD_LEARNING_TURN 16

struct nod_payload_learning {
	uint64_t reference; /* the first changed frame */
	/* The first changed frames, one turn of a 4-bit counter, and how many of the later ones
	 * equal one of them. */
	uint64_t turn[NOD_LEARNING_TURN];
	uint8_t turned;
	uint64_t differences[NOD_LEARNING_DIFFERENCES]; /* the first differences */
	uint64_t never;     /* bytes that are no checksum: they differed alone */
	uint64_t nonlinear; /* bytes that are no linear one: their difference differed alone */
	uint8_t repeated;   /* a difference came again */
	/* By the low half of byte 1, where a counter stands that chooses a hidden constant: the
	 * last frame with each value, and how many fitted a checksum of polynomial 2F in byte 0. */
	uint64_t by_counter[16];
	uint16_t counters_seen;
	uint8_t list_tried, list_fits;
	uint64_t toggles[NOD_LEARNING_PLANES]; /* per bit, bit-sliced */
	uint64_t falls[NOD_LEARNING_PLANES];   /* 1 to 0 */
	/* Times a bit did not follow the one below it as a counter's does; with
	 * bytes in little and in big endian order. */
	uint64_t odd[NOD_LEARNING_PLANES];
	uint64_t odd_big[NOD_LEARNING_PLANES];
	uint8_t fits[NOD_CHECKSUM_TESTED][2]; /* frames that fit, first and last byte */
	uint8_t frames;
	uint8_t length;
	uint64_t begun, passed; /* frames of the message before the learning; in it; 0: not known */
	bool long_frame;        /* there are bytes beyond these: checksums cannot be calculated */
};

struct nod_learned {
	uint64_t counter;    /* all counter bits */
	uint64_t chain;      /* of these, the ones above a lowest bit */
	uint64_t big_endian; /* of these, the ones that follow a bit of the next byte */
	uint64_t widest;     /* of these, the ones of the widest counter */
	uint64_t checksum;
	enum nod_checksum_kind checksum_kind;
	uint8_t checksum_byte;
	uint8_t counter_first, counter_width; /* the widest counter */
};

/* Takes one changed frame, of up to NOD_LEARNING_FRAMES. */
void nod_learning_take(struct nod_payload_learning *learning, uint64_t before, uint64_t after);

/* What the frames taken so far say. */
void nod_learning_decide(const struct nod_payload_learning *learning, struct nod_learned *learned);

/* Bits that follow a 1-to-0 change of the bit below them; big: the lowest bit
 * of a byte follows the highest of the next byte. */
#define NOD_BYTE_LOWEST UINT64_C(0x0101010101010101)
static inline uint64_t nod_carry(uint64_t fall)
{
	return fall << 1;
}
static inline uint64_t nod_carry_big(uint64_t fall)
{
	return (fall << 1 & ~NOD_BYTE_LOWEST) | (fall >> 15 & NOD_BYTE_LOWEST);
}

/* Adds one to the bit-sliced counts of all bits in mask; saturates. */
static inline void nod_planes_add(uint64_t *planes, unsigned count, uint64_t mask)
{
	for (unsigned i = 0; i < count && mask; i++) {
		uint64_t carry = planes[i] & mask;
		planes[i] ^= mask;
		mask = carry;
	}
	for (unsigned i = 0; mask && i < count; i++)
		planes[i] |= mask;
}

static inline unsigned nod_planes_count(const uint64_t *planes, unsigned count, unsigned bit)
{
	unsigned value = 0;

	for (unsigned i = 0; i < count; i++)
		value |= (unsigned)(planes[i] >> bit & 1) << i;
	return value;
}

#endif
