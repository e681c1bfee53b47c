/* SPDX-License-Identifier: MIT */
#include "touched-bits.h"

#include "engine-internal.h"
#include "payload.h"

/* A bit that moves more often than this has its own reasons. Chosen: a latch
 * pulled a few times makes a dozen changes. */
#define TOGGLES_MAX 40

void nod_touch_begin(struct nod_engine *engine, int mark, nod_time time)
{
	if (engine->touch_count == NOD_TOUCHES_MAX) {
		engine->touches_dropped++;
		return;
	}
	engine->touches[engine->touch_count++] = (struct nod_touch){.mark = mark, .time = time};
	engine->touches_open++;
}

/* Puts a bit in its place among the rarest movers, when it belongs there. */
static void keep(struct nod_touch *touch, struct nod_touch_bit bit)
{
	size_t at = touch->bit_count;

	while (at > 0 && touch->bits[at - 1].toggles > bit.toggles)
		at--;
	if (at == NOD_TOUCH_BITS)
		return;
	if (touch->bit_count < NOD_TOUCH_BITS)
		touch->bit_count++;
	for (size_t k = touch->bit_count - 1; k > at; k--)
		touch->bits[k] = touch->bits[k - 1];
	touch->bits[at] = bit;
}

/* The bits whose last change was at the same time. */
static uint64_t moved_with(const struct nod_ident *ident, nod_time moved)
{
	uint64_t bits = 0;

	for (uint64_t mask = ident->changing; mask; mask &= mask - 1) {
		unsigned bit = (unsigned)__builtin_ctzll(mask);
		if (nod_payload_last_toggle(&ident->payload, bit).ns == moved.ns)
			bits |= UINT64_C(1) << bit;
	}
	return bits;
}

static void look_at(struct nod_touch *touch, const struct nod_track *track, uint32_t index)
{
	const struct nod_ident *ident = &track->idents.items[index];
	uint64_t mask = ident->changing;

	/* Its last change of any bit tells at once whether a look pays. */
	if (ident->last_change.ns < touch->time.ns - NOD_TOUCH_BEFORE_NS)
		return;
	for (; mask; mask &= mask - 1) {
		unsigned bit = (unsigned)__builtin_ctzll(mask);
		nod_time moved = nod_payload_last_toggle(&ident->payload, bit);
		unsigned toggles = nod_payload_toggles(&ident->payload, bit);
		if (nod_time_is_set(moved) && moved.ns >= touch->time.ns - NOD_TOUCH_BEFORE_NS &&
		    moved.ns <= touch->time.ns + NOD_TOUCH_AFTER_NS && toggles <= TOGGLES_MAX)
			keep(touch, (struct nod_touch_bit){track->network, index, (uint8_t)bit,
							   toggles, moved, ident->payload.word,
							   moved_with(ident, moved)});
	}
}

void nod_touch_look(const struct nod_engine *engine, struct nod_touch *touch)
{
	touch->bit_count = 0;
	for (size_t n = 0; n < engine->track_room; n++)
		for (uint32_t i = 0; engine->tracks[n] && i < engine->tracks[n]->idents.count; i++)
			look_at(touch, engine->tracks[n], i);
}

void nod_touches_look_at_wakes(struct nod_engine *engine, nod_time now)
{
	for (size_t n = 0; n < engine->track_room && n < NOD_WAKES_SEEN; n++) {
		const struct nod_track *track = engine->tracks[n];
		if (!track || !track->span.slept_before ||
		    track->span.from.ns == engine->wakes_seen[n] ||
		    now.ns <= track->span.from.ns + NOD_TOUCH_AFTER_NS)
			continue;
		struct nod_touch touch = {.mark = (int)n, .time = track->span.from};
		engine->wakes_seen[n] = touch.time.ns;
		nod_touch_look(engine, &touch);
		if (touch.bit_count)
			engine->wake_touches[engine->wake_touch_count++ % NOD_WAKE_TOUCHES_MAX] =
				touch;
	}
}

void nod_touches_look(struct nod_engine *engine, nod_time now)
{
	while (engine->touches_open) {
		struct nod_touch *touch =
			&engine->touches[engine->touch_count - engine->touches_open];
		if (now.ns <= touch->time.ns + NOD_TOUCH_AFTER_NS)
			return;
		nod_touch_look(engine, touch);
		engine->touches_open--;
	}
}
