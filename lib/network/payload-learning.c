/* SPDX-License-Identifier: MIT */
#include "payload-learning.h"

#include <string.h>

/* Frames that had to fit a checksum with a list of constants. */
#define LIST_TRIED NOD_LEARNING_LENIENT

/* Frames (or differences) equal to a reference that show that the rest of the
 * frame decides the checksum. Chosen: wraps of a 4-bit counter in the learning,
 * less one. */
#define AGAIN_ENOUGH 3

/* ---- taking frames ---- */

static uint64_t byte_mask(unsigned byte)
{
	return UINT64_C(0xFF) << 8 * byte;
}

/* A difference within one byte: that byte changed although nothing else did. */
static uint64_t alone(uint64_t diff)
{
	if (!diff)
		return 0;
	uint64_t mask = byte_mask((unsigned)__builtin_ctzll(diff) / 8);
	return diff & ~mask ? 0 : mask;
}

static void compare_with_references(struct nod_payload_learning *l, uint64_t diff, uint64_t after)
{
	if (l->long_frame) /* the bytes not seen here may have changed as well */
		return;
	l->never |= alone(diff) | alone(after ^ l->reference);
	for (unsigned i = 0; i < NOD_LEARNING_DIFFERENCES && i < l->frames; i++) {
		l->nonlinear |= alone(diff ^ l->differences[i]);
		if (diff == l->differences[i] && l->repeated < UINT8_MAX)
			l->repeated++;
	}
	if (l->frames < NOD_LEARNING_DIFFERENCES)
		l->differences[l->frames] = diff;
}

static void compare_with_turn(struct nod_payload_learning *l, uint64_t after)
{
	if (l->long_frame)
		return;
	if (l->frames < NOD_LEARNING_TURN) {
		l->turn[l->frames] = after;
		return;
	}
	for (unsigned i = 0; i < NOD_LEARNING_TURN; i++)
		if (l->turn[i] == after) {
			l->turned++;
			return;
		}
}

static void try_list(struct nod_payload_learning *l, uint64_t after)
{
	unsigned counter = after >> 8 & 15;
	uint64_t *last = &l->by_counter[counter];

	if (l->counters_seen >> counter & 1 && *last != after) {
		l->list_tried++;
		l->list_fits += nod_checksum_explains(NOD_CHECKSUM_CRC8_2F_ID, *last, after,
						      l->length, 0);
	}
	l->counters_seen |= (uint16_t)(1u << counter);
	*last = after;
}

static void try_checksums(struct nod_payload_learning *l, uint64_t before, uint64_t after)
{
	unsigned last = l->length - 1u;

	for (unsigned kind = NOD_CHECKSUM_NONE + 1; kind < NOD_CHECKSUM_TESTED; kind++)
		for (unsigned end = 0; end < 2; end++) {
			/* One miss in sixteen is let pass; more, and it is not tried again. */
			if (l->frames - l->fits[kind][end] > 1 + l->frames / 16)
				continue;
			l->fits[kind][end] += nod_checksum_explains((enum nod_checksum_kind)kind,
								    before, after, l->length,
								    end ? last : 0);
		}
}

void nod_learning_take(struct nod_payload_learning *l, uint64_t before, uint64_t after)
{
	uint64_t diff = before ^ after, fall = before & ~after;

	if (!l->frames)
		l->reference = after;
	compare_with_references(l, diff, after);
	compare_with_turn(l, after);
	nod_planes_add(l->toggles, NOD_LEARNING_PLANES, diff);
	nod_planes_add(l->falls, NOD_LEARNING_PLANES, fall);
	nod_planes_add(l->odd, NOD_LEARNING_PLANES, diff ^ nod_carry(fall));
	nod_planes_add(l->odd_big, NOD_LEARNING_PLANES, diff ^ nod_carry_big(fall));
	if (!l->long_frame && l->length >= 2) {
		try_checksums(l, before, after);
		try_list(l, after);
	}
	l->frames++;
}

/* ---- counters ---- */

static unsigned count(const uint64_t planes[NOD_LEARNING_PLANES], unsigned bit)
{
	return nod_planes_count(planes, NOD_LEARNING_PLANES, bit);
}

/* The lowest bit of a counter changes in every frame, but for a wrap at an odd
 * number of values and for lost frames. */
static bool is_lowest(const struct nod_payload_learning *l, unsigned bit)
{
	if (l->frames < NOD_LEARNING_LENIENT)
		return count(l->toggles, bit) == l->frames;
	return count(l->toggles, bit) + l->frames / 8u >= l->frames;
}

/* A bit of a counter changes when and only when the one below falls, so not in every frame. One
 * exception in three changes covers a counter that wraps at ten. */
static bool follows(const struct nod_payload_learning *l, unsigned bit, unsigned below, bool big)
{
	if (is_lowest(l, bit))
		return false;
	unsigned toggles = count(l->toggles, bit), falls = count(l->falls, below);
	unsigned odd = count(big ? l->odd_big : l->odd, bit);

	if (l->frames < NOD_LEARNING_LENIENT)
		return toggles && !odd;
	return toggles && odd * 3 <= toggles + falls;
}

struct walk {
	uint64_t bits, big;
	unsigned width;
};

/* The bit above in the counter, -1 when it ends. */
static int next_bit(const struct nod_payload_learning *l, unsigned bit, unsigned bits, bool *big)
{
	*big = false;
	if (bit + 1 < bits && follows(l, bit + 1, bit, false))
		return (int)bit + 1;
	if (bit % 8 != 7 || bit < 15 || !follows(l, bit - 15, bit, true))
		return -1;
	*big = true;
	return (int)bit - 15;
}

static struct walk walk_up(const struct nod_payload_learning *l, unsigned lowest)
{
	struct walk w = {UINT64_C(1) << lowest, 0, 1};
	bool big;
	int bit = next_bit(l, lowest, l->length * 8u, &big);

	while (bit >= 0 && w.width < 32) {
		w.bits |= UINT64_C(1) << bit;
		w.big |= big ? UINT64_C(1) << bit : 0;
		w.width++;
		bit = next_bit(l, (unsigned)bit, l->length * 8u, &big);
	}
	return w;
}

/* A single bit that changes in every frame is believed to count only at the
 * end of the learning: a switch may alternate for a while, too. And only if hardly a frame
 * passes without a change: a switch alone in its message changes it whenever it moves. */
static bool is_wide_enough(const struct nod_payload_learning *l, unsigned lowest, unsigned width)
{
	return width >= 2 ||
	       (l->frames >= NOD_LEARNING_FRAMES && count(l->toggles, lowest) == l->frames &&
		l->passed * 9 <= l->frames * UINT64_C(10));
}

static void find_counters(const struct nod_payload_learning *l, struct nod_learned *out)
{
	for (unsigned bit = 0; bit < l->length * 8u; bit++) {
		if (out->counter >> bit & 1 || !is_lowest(l, bit))
			continue;
		struct walk w = walk_up(l, bit);
		if (!is_wide_enough(l, bit, w.width))
			continue;
		out->counter |= w.bits;
		out->chain |= w.bits & ~(UINT64_C(1) << bit);
		out->big_endian |= w.big;
		if (w.width > out->counter_width) {
			out->counter_first = (uint8_t)bit;
			out->counter_width = (uint8_t)w.width;
			out->widest = w.bits;
		}
	}
}

/* ---- checksums ---- */

static bool changes_mostly(const struct nod_payload_learning *l, unsigned byte)
{
	unsigned most = 0, sum = 0;

	for (unsigned bit = byte * 8; bit < byte * 8 + 8; bit++) {
		unsigned n = count(l->toggles, bit);
		most = n > most ? n : most;
		sum += n;
	}
	return most * 8 >= l->frames && sum >= l->frames * 7u / 8u;
}

static bool fits(const struct nod_payload_learning *l, unsigned kind, unsigned end)
{
	return l->fits[kind][end] + l->frames / 16u >= l->frames &&
	       changes_mostly(l, end ? l->length - 1u : 0);
}

/* Of first and last byte the one with fewer counter bits: where a frame has
 * nothing but a counter and its checksum, either explains the other. */
static unsigned better_end(const struct nod_payload_learning *l, const struct nod_learned *out)
{
	unsigned first = (unsigned)__builtin_popcountll(out->counter & byte_mask(0));
	unsigned last = (unsigned)__builtin_popcountll(out->counter & byte_mask(l->length - 1u));

	return first < last ? 0 : 1;
}

static void set_checksum(const struct nod_payload_learning *l, struct nod_learned *out,
			 unsigned kind, unsigned end)
{
	out->checksum_kind = (enum nod_checksum_kind)kind;
	out->checksum_byte = (uint8_t)(end ? l->length - 1u : 0);
	out->checksum = byte_mask(out->checksum_byte);
}

static void find_checksum(const struct nod_payload_learning *l, struct nod_learned *out)
{
	if (l->long_frame || l->length < 2)
		return;
	unsigned better = better_end(l, out);
	for (unsigned kind = NOD_CHECKSUM_NONE + 1; kind < NOD_CHECKSUM_TESTED; kind++) {
		if (fits(l, kind, better))
			return set_checksum(l, out, kind, better);
		if (fits(l, kind, !better))
			return set_checksum(l, out, kind, !better);
	}
	if (l->list_tried >= LIST_TRIED && l->list_fits + l->list_tried / 16 >= l->list_tried)
		set_checksum(l, out, NOD_CHECKSUM_CRC8_2F_LIST, 0);
}

/* Each of four bits changes in at least one of `part` frames, and stays in at
 * least as many. */
static bool is_scattered(const struct nod_payload_learning *l, unsigned nibble, unsigned part)
{
	unsigned least = l->frames / part;

	for (unsigned bit = nibble * 4; bit < nibble * 4 + 4; bit++) {
		unsigned n = count(l->toggles, bit);
		if (n < least || n + least > l->frames)
			return false;
	}
	return true;
}

/* Whether a nibble follows from the rest of the frame. Differences that come
 * again show it. Where none does, because much else changes, the nibble must
 * change as evenly as chance. */
static bool is_function_of_rest(const struct nod_payload_learning *l, unsigned nibble,
				uint64_t mask)
{
	if (l->never & mask)
		return false;
	if (l->nonlinear & mask)
		return false;
	return is_scattered(l, nibble, l->repeated >= AGAIN_ENOUGH ? 16 : 4);
}

/* The widest counter is one; a few bits elsewhere that seem to count may be a
 * checksum over it. */
static bool is_counter(const struct nod_learned *out, uint64_t mask)
{
	return out->counter & out->widest & mask || (out->counter & mask) == mask;
}

/* A frame that only ever takes the few contents of one turn of its counter:
 * what changes in it is the counter and what is calculated from it. */
static bool only_turns(const struct nod_payload_learning *l, const struct nod_learned *out)
{
	unsigned later = l->frames > NOD_LEARNING_TURN ? l->frames - NOD_LEARNING_TURN : 0;

	return later >= NOD_LEARNING_TURN && out->counter_width >= 3 &&
	       l->turned + later / 8 >= later;
}

static void take_all_that_turns(const struct nod_payload_learning *l, struct nod_learned *out)
{
	for (unsigned bit = l->length * 8u; bit-- > 0;) {
		uint64_t mask = UINT64_C(1) << bit;
		if (out->counter & mask || count(l->toggles, bit) < l->frames / NOD_LEARNING_TURN)
			continue;
		out->checksum |= mask;
		out->checksum_byte = (uint8_t)(bit / 8);
		out->checksum_kind = NOD_CHECKSUM_LIKE;
	}
}

/* What behaves like a checksum without being one that can be calculated. */
static void find_likeness(const struct nod_payload_learning *l, struct nod_learned *out)
{
	for (unsigned nibble = 0; nibble < l->length * 2u; nibble++) {
		unsigned byte = nibble / 2;
		uint64_t mask = UINT64_C(15) << nibble * 4;
		if (byte >= 2 && byte + 2 < l->length)
			continue;
		if (l->long_frame && byte >= 2)
			continue;
		if (is_counter(out, mask) || !is_function_of_rest(l, nibble, mask))
			continue;
		if (!out->checksum)
			out->checksum_byte = (uint8_t)byte;
		out->checksum |= mask;
		out->checksum_kind = NOD_CHECKSUM_LIKE;
	}
}

void nod_learning_decide(const struct nod_payload_learning *l, struct nod_learned *out)
{
	memset(out, 0, sizeof(*out));
	find_counters(l, out);
	find_checksum(l, out);
	if (out->checksum || !out->counter || l->frames < NOD_LEARNING_FRAMES / 2)
		; /* known, or no ground for a guess */
	else if (only_turns(l, out))
		take_all_that_turns(l, out);
	else
		find_likeness(l, out);
	out->counter &= ~out->checksum;
	out->chain &= out->counter;
	out->big_endian &= out->counter;
	if (!(out->counter >> out->counter_first & 1))
		out->counter_width = 0;
}
