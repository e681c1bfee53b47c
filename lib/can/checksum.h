/* SPDX-License-Identifier: MIT */
/* Whether one byte of a message is the checksum of the others, judged from
 * how two of its frames differ.
 *
 * All checksums here are linear: the difference of two checksums depends only
 * on the difference of the bytes they cover. Start value, final XOR and hidden
 * constant bytes (a data ID before the data) drop out, so none needs to be
 * known. */
#ifndef NOD_CHECKSUM_H
#define NOD_CHECKSUM_H

#include <stdbool.h>
#include <stdint.h>

enum nod_checksum_kind {
	NOD_CHECKSUM_NONE,
	NOD_CHECKSUM_XOR,        /* of the other bytes */
	NOD_CHECKSUM_SUM,        /* of the other bytes, modulo 256 */
	NOD_CHECKSUM_COMPLEMENT, /* of the sum: all bytes add up to a constant */
	NOD_CHECKSUM_CRC8_1D,    /* polynomial 1D (SAE J1850), the other bytes in order */
	NOD_CHECKSUM_CRC8_1D_ID, /* ... with one constant byte behind them */
	NOD_CHECKSUM_CRC8_2F,    /* polynomial 2F */
	NOD_CHECKSUM_CRC8_2F_ID,
	/* Not told by a difference alone: */
	NOD_CHECKSUM_CRC8_2F_LIST, /* ... with a constant behind that a counter chooses */
	NOD_CHECKSUM_LIKE,         /* changes as a checksum does, but none of the above */
	NOD_CHECKSUM_KINDS
};

/* The first kind that is not tested by nod_checksum_explains(). */
#define NOD_CHECKSUM_TESTED NOD_CHECKSUM_CRC8_2F_LIST

/* True when the byte at `position` changed from one frame to the other as a
 * checksum of this kind over all other bytes would. Words hold byte 0 in the
 * lowest 8 bits; length is 1 to 8 and position less. */
bool nod_checksum_explains(enum nod_checksum_kind kind, uint64_t before, uint64_t after,
			   unsigned length, unsigned position);

#endif
