/* SPDX-License-Identifier: MIT */
/* An independent model: one bit at a time, one field at a time; and frames by chance. */
#ifndef FRAME_BITS_MODEL_H
#define FRAME_BITS_MODEL_H

#include <stdint.h>

#include "frame.h"

struct wire {
	int last, run;
	unsigned bits, stuff, dominant, crc;
};

static inline void wire_raw(struct wire *w, int bit)
{
	w->bits++;
	w->dominant += !bit;
	w->run = bit == w->last ? w->run + 1 : 1;
	w->last = bit;
}

static inline void wire_bit(struct wire *w, int bit)
{
	wire_raw(w, bit);
	if (w->run == 5) {
		wire_raw(w, !bit);
		w->stuff++;
	}
}

static inline void wire_field(struct wire *w, uint32_t value, int width, int with_crc)
{
	for (int i = width - 1; i >= 0; i--) {
		int bit = value >> i & 1;
		if (with_crc)
			w->crc = (w->crc << 1 & 0x7FFF) ^
				 ((unsigned)bit != w->crc >> 14 ? 0x4599u : 0u);
		wire_bit(w, bit);
	}
}

static inline struct wire wire_classical(const struct nod_frame *f, unsigned dlc)
{
	struct wire w = {.last = -1};
	uint32_t id = f->id & NOD_ID_EXTENDED_MASK, remote = f->id & NOD_ID_REMOTE ? 1 : 0;

	wire_field(&w, 0, 1, 1);
	if (f->id & NOD_ID_EXTENDED) {
		wire_field(&w, id >> 18, 11, 1);
		wire_field(&w, 3, 2, 1);
		wire_field(&w, id, 18, 1);
		wire_field(&w, remote, 1, 1);
		wire_field(&w, 0, 2, 1);
	} else {
		wire_field(&w, id, 11, 1);
		wire_field(&w, remote, 1, 1);
		wire_field(&w, 0, 2, 1);
	}
	wire_field(&w, dlc, 4, 1);
	for (unsigned i = 0; i < f->length && !remote; i++)
		wire_field(&w, f->data[i], 8, 1);
	wire_field(&w, w.crc, 15, 0);
	w.bits += 1 + 2 + 7 + 3;
	w.dominant += 1;
	return w;
}

/* Returns nominal bits in .bits, data phase bits in .crc. */
static inline struct wire wire_fd(const struct nod_frame *f, unsigned dlc)
{
	struct wire w = {.last = -1};
	uint32_t id = f->id & NOD_ID_EXTENDED_MASK;
	unsigned brs = f->flags & NOD_FRAME_BRS ? 1 : 0, nominal;

	wire_field(&w, 0, 1, 0);
	if (f->id & NOD_ID_EXTENDED) {
		wire_field(&w, id >> 18 << 2 | 3, 13, 0);
		wire_field(&w, id & 0x3FFFF, 18, 0);
		wire_field(&w, 2, 3, 0); /* RRS FDF res */
	} else {
		wire_field(&w, id, 11, 0);
		wire_field(&w, 2, 4, 0); /* RRS IDE FDF res */
	}
	nominal = w.bits + 1; /* a stuff bit before BRS is behind us */
	wire_field(&w, brs, 1, 0);
	wire_field(&w, f->flags & NOD_FRAME_ESI ? 1 : 0, 1, 0);
	wire_field(&w, dlc, 4, 0);
	for (unsigned i = 0; i < f->length; i++)
		wire_field(&w, f->data[i], 8, 0);
	unsigned last = f->length ? f->data[f->length - 1] & 1 : dlc & 1;
	if (w.last != (int)last) { /* the last bit called for a stuff bit: the fixed one does */
		w.stuff--;
		w.bits--;
	}
	w.crc = w.bits - nominal;
	w.bits = nominal;
	return w;
}

/* A repeatable pseudo-random source: xorshift. */
static inline uint64_t random_next(uint64_t *s)
{
	*s ^= *s << 13;
	*s ^= *s >> 7;
	*s ^= *s << 17;
	return *s;
}

static inline void random_data(uint64_t *seed, struct nod_frame *f, unsigned length)
{
	unsigned style = (unsigned)random_next(seed) % 4;

	f->length = (uint8_t)length;
	for (unsigned i = 0; i < length; i++) {
		uint64_t r = random_next(seed);
		/* long runs are where stuffing happens */
		f->data[i] = (uint8_t)(style == 0   ? r
				       : style == 1 ? 0
				       : style == 2 ? r & r >> 8 & r >> 16 & r >> 24
						    : r | r >> 8 | r >> 16 | r >> 24);
	}
}

static inline uint32_t random_id(uint64_t *seed)
{
	uint64_t r = random_next(seed);

	if (r >> 40 & 3)
		r &= r >> 32;
	return r >> 62 ? NOD_ID_EXTENDED | (uint32_t)(r & NOD_ID_EXTENDED_MASK)
		       : (uint32_t)(r & NOD_ID_STANDARD_MASK);
}

#endif
