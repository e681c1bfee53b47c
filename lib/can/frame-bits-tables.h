/* SPDX-License-Identifier: MIT */
/* What frame-bits.c and the program that makes its tables agree on. */
#ifndef NOD_FRAME_BITS_TABLES_H
#define NOD_FRAME_BITS_TABLES_H

/* crc_slices[k][b]: the CRC-15 of byte b followed by k zero bytes. The CRC of
 * a whole message is the XOR of one entry per byte. An extended header padded
 * to 5 bytes and 8 data bytes are the longest message. */
#define CRC_SLICES 13

/* Where the bit stuffing stands: the value of the last bit sent and how many
 * like it in a row (1..5). After 5 a stuff bit is due before the next bit. */
#define STATES 16
#define STATE(bit, run) ((run) << 1 | (bit))
#define STATE_BIT(state) ((state)&1u)
#define STATE_RUN(state) ((state) >> 1)

/* stuff_steps[byte][state]: the state after the 8 bits of a byte, how many
 * stuff bits that took, and how many of all these bits were dominant. */
#define STEP_STATE_MASK 15u
#define STEP_STUFF_SHIFT 4
#define STEP_DOMINANT_SHIFT 10

/* For many frames: the last WINDOW bytes before the CRC, looked at as 64 bits of which each
 * says whether the bit on the wire is like the one before it. Then only the length of the
 * run matters, not of which bits it is.
 *
 * same_steps[byte] has two fields for each run (1..5) that may come before the byte: where
 * those for the run after it begin, so that the next entry need only be shifted by that,
 * and from SAME_STUFF_SHIFT on how many stuff bits it took. A sum of shifted entries has
 * the sum of the stuff bits there: what else is added up (ten times at most 30 bits
 * below, the fields for longer runs above) does not reach it.
 * same_crcs[i][byte]: what the i-th byte of the window changes in the CRC. */
#define WINDOW 8
#define SAME_RUN(run) (6u * ((run)-1))
#define SAME_SHIFT_MASK 63u
#define SAME_STUFF_SHIFT 36
#define SAME_STUFF_MASK 63u

#endif
