/* SPDX-License-Identifier: MIT */
/* How long a frame is on the wire, in bit times.
 *
 * Classical frames: exact, with stuff bits and the 3 bits of interframe space
 * (overload and error frames apart). Field lists: SOF, identifier, RTR, IDE,
 * reserved, DLC, data, CRC-15 (these are stuffed), CRC delimiter, ACK slot and
 * delimiter, 7 bits end of frame, 3 bits interframe space; 47 bits standard
 * and 67 extended without data (include/linux/can/length.h). CRC-15/CAN:
 * polynomial 4599, initial value 0 (CRC catalogue).
 *
 * A classical length costs about as much as a dozen table look-ups: it is
 * meant to be called for every frame. All functions are pure. */
#ifndef NOD_FRAME_BITS_H
#define NOD_FRAME_BITS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "frame.h"

#define NOD_BITS_STANDARD 47 /* without data and stuff bits */
#define NOD_BITS_EXTENDED 67

/* A classical frame on the wire. */
struct nod_bits {
	uint16_t total;    /* all bit times, with stuff bits and interframe space */
	uint16_t stuff;    /* of these, stuff bits */
	uint16_t dominant; /* of these, dominant: with one bit of acknowledgement */
	uint16_t crc;      /* CRC-15 as sent */
};

/* What does not change between frames of one ID, length and kind. */
struct nod_bits_head {
	uint16_t crc;       /* what the header contributes to the CRC */
	uint16_t stuffed;   /* sums over the header, as in the step table */
	uint8_t state;      /* of the bit stuffing after the header */
	uint8_t length;     /* data bytes, 0..8 */
	uint16_t unstuffed; /* bit times without stuff bits */
};

/* The head of a classical frame; data is not looked at. A length above 8
 * counts as 8; raw_dlc is honoured; a remote frame has no data. */
struct nod_bits_head nod_bits_head(const struct nod_frame *frame);

/* Counts a frame with this head. `data` has head->length bytes. */
struct nod_bits nod_bits_count(const struct nod_bits_head *head, const uint8_t *data);

/* Both in one. Not for CAN FD frames; all zero for an error report. */
struct nod_bits nod_bits_of(const struct nod_frame *frame);

/* A CAN FD frame: how many bits at either bit rate.
 *
 * From memory of ISO 11898-1:2015, which could not be read: dynamic stuffing
 * up to the last data bit (none after it: the fixed stuff bit that follows
 * does its work), then fixed stuff bits before the 4 bits of the stuff count
 * and after every fourth bit: 6 with CRC-17 (up to 16 bytes), 7 with CRC-21.
 * The length does not depend on the CRC. The bit rate switches at the sample
 * point of BRS and back at that of the CRC delimiter; here BRS counts as
 * nominal and the CRC delimiter as data, so each may be wrong by less than
 * one bit. */
struct nod_fd_bits {
	uint16_t nominal; /* bit times at the nominal rate, with interframe space */
	uint16_t data;    /* bit times at the data rate; 0 without BRS */
	uint16_t stuff;   /* dynamic stuff bits among them */
};

/* A length that no DLC has counts as the next one that exists; the bytes
 * between are taken as 00. */
struct nod_fd_bits nod_fd_bits_of(const struct nod_frame *frame);

/* All bit times of any frame, whatever their rate; 0 for an error report. */
uint32_t nod_frame_bits(const struct nod_frame *frame);

/* What is worked out once for the data frames of one ID and length, for who takes many. */
struct nod_bits_line {
	uint64_t head;  /* bits before the data, as far as they are walked with them */
	uint64_t turn;  /* what makes these say which are like the one before */
	uint16_t crc;   /* what all that does not change contributes to the CRC */
	uint16_t least; /* bit times, without the stuff bits of what is walked */
	uint8_t run;    /* bits in a row before what is walked, as an index */
	uint8_t length; /* data bytes 0..8, or NOD_BITS_LINE_NONE */
};
#define NOD_BITS_LINE_NONE 255 /* nothing worked out yet */

/* True for a frame whose length depends on its ID and data alone: a classical data frame
 * without a raw DLC. */
static inline bool nod_bits_is_usual(const struct nod_frame *frame)
{
	return !(frame->id & (NOD_ID_REMOTE | NOD_ID_ERROR)) &&
	       !((frame->flags & NOD_FRAME_FD) | frame->raw_dlc) && frame->length <= 8;
}

/* For a usual frame. */
void nod_bits_line_learn(struct nod_bits_line *line, const struct nod_frame *frame);

/* bits[i] = nod_frame_bits(&frames[i]), in a fraction of the time. lines[i] was learned
 * from a frame of this ID and length; the frames are usual ones. */
void nod_bits_walk(const struct nod_bits_line *const *lines, const struct nod_frame *frames,
		   size_t count, uint16_t *bits);

/* The most stuff bits a classical frame of that many data bytes (0..8) can
 * have, an upper bound that need not be reached: floor((34 + 8n - 1) / 4),
 * with 54 for 34 when extended. */
unsigned nod_bits_stuff_bound(bool extended, unsigned length);

/* Bit times without a stuff bit: 47 + 8n, and 67 + 8n extended (Davis, Burns, Bril, Lukkien,
 * Real-Time Systems 35:239-272, 2007). */
unsigned nod_bits_least(bool extended, unsigned length);

#endif
