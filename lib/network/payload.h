/* SPDX-License-Identifier: MIT */
/* What the payload of one message does: which bits mean something when they
 * change, and which only count or check.
 *
 * A counter or a checksum changes in every frame although nothing happens; a
 * bit of real payload changes because something did. The first frames that
 * differ from the one before them decide (looked at after 8, 16, 32 and 64 of
 * them); until 8 nothing is known and every change counts as real. What later
 * contradicts a role ends it and starts the learning anew.
 *
 * Counters of any width from 1 bit at any place, either byte order, counting
 * up; wraps at any value from about 10 on. Checksums: see checksum.h, in the
 * first or the last byte. Where a frame takes only the few contents of one
 * turn of its counter, whatever changes in it counts or checks. Else, beside a
 * counter, a byte or nibble in the two first or two last bytes is taken for a
 * checksum of another kind when differences that come again show that the rest
 * of the frame decides it, or, where too much changes for that, when each of
 * its bits changes in a quarter to three quarters of the frames. A fast
 * measured value in that place could be mistaken then: a real change is not
 * seen, never the other way round.
 *
 * Bit numbers and masks: bit 0 is the lowest bit of byte 0, bit 63 the highest
 * of byte 7. Of CAN FD frames the bytes from 8 on are only watched for change. */
#ifndef NOD_PAYLOAD_H
#define NOD_PAYLOAD_H

#include <stdbool.h>
#include <stdint.h>

#include "checksum.h"
#include "frame.h"

/* Toggles are counted up to 2^16 - 1, which then means "at least". */
#define NOD_PAYLOAD_PLANES 16

struct nod_payload_learning;
struct nod_payload_above;

/* Freely movable in memory; under 600 bytes. Do not touch the members. */
struct nod_payload {
	/* What every frame touches comes first and lies close together. */
	uint64_t word;                     /* the bytes of the last frame */
	uint64_t counter, chain, checksum; /* roles; chain: counter bits but the lowest */
	uint64_t toggled;                  /* bits that ever changed */
	uint64_t fallen;                   /* bits that ever went from 1 to 0 */
	uint64_t big_endian;               /* counter bits that follow a bit of the next byte */
	uint64_t changed;                  /* frames unlike the one before */
	uint8_t length;
	uint8_t plain_length; /* the same; 255 where a frame needs a closer look anyhow */
	bool begun;           /* a frame was taken */
	bool decided, wrapped;
	bool starved; /* memory ran out: roles or changes may be missing */
	bool settled; /* it has roles from an earlier learning: first looks do not change them */
	/* Changed frames since the last review; of these, with a contradiction to the roles, with
	 * a real change. */
	uint8_t window, against, busy;
	uint8_t counter_first, counter_width; /* its lowest bit, and bits; 0: none */
	uint16_t counter_mask; /* its bits, shifted down; 0: its values are not followed */
	uint16_t counter_low, counter_high, counter_value; /* values of the first counter */
	uint16_t patience, waited; /* reviews until a busy payload is learned again */
	uint8_t checksum_kind, checksum_byte;

	nod_time start;                        /* of the first frame */
	struct nod_payload_learning *learning; /* NULL: not yet, or decided */
	struct nod_payload_above *above;       /* bytes 8 to 63; NULL: none */
	uint64_t planes[NOD_PAYLOAD_PLANES];   /* toggle counts, bit-sliced */
	uint32_t last_ms[64];                  /* last toggle, milliseconds after start */
};

void nod_payload_init(struct nod_payload *payload);

/* Frees what it holds, not the struct. */
void nod_payload_clear(struct nod_payload *payload);

struct nod_payload_roles {
	uint64_t constant; /* bits that never changed, in the bytes that exist */
	uint64_t counter;
	uint64_t checksum;
	uint64_t changing; /* bits whose changes mean something */
	enum nod_checksum_kind checksum_kind;
	uint8_t checksum_byte;
	uint8_t counter_first, counter_width; /* the first counter, if any */
	uint32_t counter_modulus;             /* how many values it takes; 0: did not wrap yet */
	bool decided; /* enough was seen (64 changed frames) to tell counters from payload for good */
	uint8_t unsure;     /* changed frames taken before anything could be told: up to 7 */
	bool above_changed; /* CAN FD: something changed in the bytes from 8 on */
};

void nod_payload_roles(const struct nod_payload *payload, struct nod_payload_roles *roles);

/* How often a bit (0..63) changed while it was not known as a counter or
 * checksum; NOD_PAYLOAD_MANY: that often or more. */
#define NOD_PAYLOAD_MANY ((1u << NOD_PAYLOAD_PLANES) - 1)
unsigned nod_payload_toggles(const struct nod_payload *payload, unsigned bit);

/* When it last did, to the millisecond; NOD_TIME_NONE when never. */
nod_time nod_payload_last_toggle(const struct nod_payload *payload, unsigned bit);

#endif
