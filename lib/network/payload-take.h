/* SPDX-License-Identifier: MIT */
/* What each frame does to the record of its payload: a few masks, no branch that frames
 * of different messages would take differently. payload.c has the rest. */
#ifndef NOD_PAYLOAD_TAKE_H
#define NOD_PAYLOAD_TAKE_H

#include <endian.h>
#include <string.h>

#include "payload-learning.h"
#include "payload.h"

/* Changed frames between two reviews of the roles. */
#define NOD_PAYLOAD_REVIEW 64

/* What few frames need. learn: until the roles are decided. review: whether they still
 * hold. grow: a counter's next bit joins it. unlike: the first frame, one of another
 * length, or of more than 8 bytes. */
void nod_payload_learn(struct nod_payload *payload, uint64_t before, uint64_t after,
		       const uint64_t *frames);
void nod_payload_review(struct nod_payload *payload);
void nod_payload_grow(struct nod_payload *payload, uint64_t diff, uint64_t fall);
void nod_payload_note_toggles(struct nod_payload *payload, uint64_t real, nod_time time);
uint64_t nod_payload_take_unlike(struct nod_payload *payload, const struct nod_frame *frame);

static inline uint64_t nod_payload_word(const struct nod_frame *frame)
{
	uint64_t word;

	memcpy(&word, frame->data, sizeof(word));
	return le64toh(word);
}

static inline bool nod_payload_contradicts(const struct nod_payload *p, uint64_t diff,
					   uint64_t fall)
{
	uint64_t carries = (nod_carry(fall) & ~p->big_endian) |
			   (nod_carry_big(fall) & p->big_endian);
	uint64_t odd = (diff ^ carries) & p->chain;
	uint64_t still = ~diff & p->counter & ~p->chain;
	bool alone = p->length <= 8 && !(diff & ~p->checksum);

	return (odd | still) || alone;
}

/* Works as well, and changes nothing, when the mask is 0. */
static inline void nod_payload_follow_counter(struct nod_payload *p, uint64_t word)
{
	unsigned mask = p->counter_mask;
	unsigned value = (unsigned)(word >> (p->counter_first & 63)) & mask;
	unsigned lowest = value | (mask ? 0 : UINT16_MAX);

	p->wrapped |= (value < p->counter_value) & (mask != 0);
	p->counter_value = (uint16_t)value;
	p->counter_low = (uint16_t)(lowest < p->counter_low ? lowest : p->counter_low);
	p->counter_high = (uint16_t)(value > p->counter_high ? value : p->counter_high);
}

static inline uint64_t nod_payload_take_change(struct nod_payload *p, uint64_t word, nod_time time,
					       const uint64_t *frames)
{
	uint64_t diff = word ^ p->word, fall = p->word & ~word;

	p->changed++;
	if (__builtin_expect(!p->decided, 0)) {
		nod_payload_learn(p, p->word, word, frames);
	} else {
		p->against = (uint8_t)(p->against + nod_payload_contradicts(p, diff, fall));
		p->busy = (uint8_t)(p->busy + ((diff & ~(p->counter | p->checksum)) != 0));
		if (__builtin_expect(++p->window == NOD_PAYLOAD_REVIEW, 0))
			nod_payload_review(p);
	}
	if (__builtin_expect((fall & p->counter & ~p->fallen) != 0, 0))
		nod_payload_grow(p, diff, fall);
	nod_payload_follow_counter(p, word);
	p->word = word;
	p->toggled |= diff;
	p->fallen |= fall;
	uint64_t real = diff & ~(p->counter | p->checksum);
	if (real)
		nod_payload_note_toggles(p, real, time);
	return real;
}

/* Takes the next frame of the message. Returns the bits among the first 64
 * that really changed since the one before: counters and checksums, as known
 * so far, are left out. Remote frames and error reports are passed over. Works
 * on, without roles, when memory runs out, and `starved` is set. `frames`: three numbers,
 * together the frames of the message so far; NULL: not known. */
static inline uint64_t nod_payload_take_of(struct nod_payload *p, const struct nod_frame *frame,
					   const uint64_t *frames)
{
	if (frame->id & (NOD_ID_REMOTE | NOD_ID_ERROR))
		return 0;
	if (__builtin_expect(frame->length != p->plain_length, 0))
		return nod_payload_take_unlike(p, frame);
	uint64_t word = nod_payload_word(frame);
	return word == p->word ? 0 : nod_payload_take_change(p, word, frame->time, frames);
}

#endif
