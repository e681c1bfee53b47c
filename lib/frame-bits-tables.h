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
#define STATE_BIT(state) ((state) & 1u)
#define STATE_RUN(state) ((state) >> 1)

/* stuff_steps[byte][state]: the state after the 8 bits of a byte, how many
 * stuff bits that took, and how many of all these bits were dominant. */
#define STEP_STATE_MASK 15u
#define STEP_STUFF_SHIFT 4
#define STEP_DOMINANT_SHIFT 10

/* walks[state][byte]: the same without the dominant bits, for who only wants the
 * length: the state at its place in an index, the stuff bits below. A sum of such
 * steps has the sum of the stuff bits in its lowest bits. */
#define WALK_STATE_SHIFT 8
#define WALK_STATE_MASK (15u << WALK_STATE_SHIFT)
#define WALK_STUFF_MASK 63u

#endif
