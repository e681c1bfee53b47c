/* SPDX-License-Identifier: MIT */
/* Bits of a payload that behave as a switch does: few states, no drift. Of bits that carry
 * meaning (counters and checksums are known to payload.c), a measured value moves in runs of
 * neighbours, the lowest most; a switch moves alone, or two bits of a state together.
 *
 * The lowest bit of a value that stands between two steps also moves alone. Values begin at
 * the border of a byte or a half byte (common practice, no source), so a single bit there is
 * told apart: it may be either. So may one that moves several times a second. What comes on at
 * even intervals is driven by a clock: a lamp that flashes, contents that take turns. */
#ifndef NOD_SWITCHES_H
#define NOD_SWITCHES_H

#include "bit-times.h"
#include "payload.h"

enum nod_data_kind {
	NOD_DATA_STILL, /* nothing that means something changed */
	NOD_DATA_VALUE, /* values moved */
	NOD_DATA_LOWEST, /* a single bit where values begin: a switch, or a value between two steps */
	NOD_DATA_SWITCH, /* a switch's bits */
	NOD_DATA_TOLD,   /* ... and its changes are sent at once, out of turn */
	NOD_DATA_KINDS
};

struct nod_data {
	enum nod_data_kind kind;
	unsigned bit,
		changes; /* of SWITCH, TOLD and LOWEST: the bit that changed most, how often */
};

/* What the payload did since its toggle counts were `before` (NULL: since the start). `times`:
 * when its bits moved since then; NULL: not known. */
struct nod_data nod_data_of(const struct nod_payload *payload,
			    const uint64_t before[NOD_PAYLOAD_PLANES],
			    const struct nod_bit_times *times);

/* Whether a clock moves this bit: it comes on at even intervals. */
bool nod_data_is_even(const struct nod_bit_times *times, unsigned bit);

/* Whether one of these bits behaves as a switch does and changed at most so often. */
bool nod_data_has_switch(const struct nod_payload *payload,
			 const uint64_t before[NOD_PAYLOAD_PLANES], uint64_t bits, unsigned most);

#endif
