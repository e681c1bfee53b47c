/* SPDX-License-Identifier: MIT */
#include "ident.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

/* The slot of an ID: where it is or where it would go. */
static uint32_t *slot_of(const struct nod_idents *idents, uint32_t id)
{
	uint32_t mask = idents->slot_count - 1;

	for (uint32_t i = nod_idents_hash(idents, id);; i = (i + 1) & mask) {
		uint32_t index = idents->slots[i];
		if (!index || idents->items[index - 1].id == id)
			return &idents->slots[i];
	}
}

static int grow_slots(struct nod_idents *idents)
{
	uint32_t size = idents->slot_count ? idents->slot_count * 2 : 256;
	uint32_t *slots = calloc(size, sizeof(*slots));

	if (!slots)
		return -ENOMEM;
	free(idents->slots);
	idents->slots = slots;
	/* Where the table lies differs from run to run. No order depends on it. */
	idents->seed = (uint32_t)((uintptr_t)slots >> 4) * UINT32_C(0x9E3779B1);
	idents->slot_count = size;
	idents->shift = (uint8_t)(__builtin_clz(size) + 1);
	for (uint32_t i = 0; i < idents->count; i++)
		*slot_of(idents, idents->items[i].id) = i + 1;
	return 0;
}

static int make_room(struct nod_idents *idents)
{
	if ((idents->all ? *idents->all : idents->count) >= NOD_IDENTS_MAX)
		return -ENOSPC;
	if (idents->count < idents->room)
		return 0;
	uint32_t room = idents->room ? idents->room * 2 : 64;
	struct nod_ident *items = realloc(idents->items, room * sizeof(*items));
	if (!items)
		return -ENOMEM;
	idents->items = items;
	idents->room = room;
	return 0;
}

static struct nod_ident *add(struct nod_idents *idents, uint32_t id)
{
	int status = make_room(idents);

	if (!status && idents->count >= idents->slot_count / 4)
		status = grow_slots(idents);
	if (status) {
		errno = -status;
		return NULL;
	}
	struct nod_ident *ident = &idents->items[idents->count];
	memset(ident, 0, sizeof(*ident));
	ident->id = id;
	ident->first = ident->last = ident->last_change = ident->span_first = NOD_TIME_NONE;
	ident->line.length = NOD_BITS_LINE_NONE;
	nod_payload_init(&ident->payload);
	*slot_of(idents, id) = ++idents->count;
	if (idents->all)
		++*idents->all;
	return ident;
}

struct nod_ident *nod_idents_search(struct nod_idents *idents, uint32_t id)
{
	struct nod_ident *ident = nod_idents_find(idents, id);

	return ident ? ident : add(idents, id);
}

struct nod_ident *nod_idents_find(const struct nod_idents *idents, uint32_t id)
{
	uint32_t index = idents->slot_count ? *slot_of(idents, id) : 0;

	return index ? &idents->items[index - 1] : NULL;
}

void nod_idents_clear(struct nod_idents *idents)
{
	for (uint32_t i = 0; i < idents->count; i++) {
		nod_payload_clear(&idents->items[i].payload);
		nod_ident_end_after(&idents->items[i]);
		free(idents->items[i].node);
	}
	free(idents->items);
	free(idents->slots);
	memset(idents, 0, sizeof(*idents));
}

/* A frame after less than this share of the usual interval comes out of turn: more than
 * jitter and the merging of recorders move one. Chosen. */
#define PROMPT_SHARE 0.6

struct nod_after *nod_ident_begin_after(struct nod_ident *ident)
{
	struct nod_period usual = nod_sampler_period(&ident->settled);
	struct nod_after *after = calloc(1, sizeof(*after));

	if (!after)
		return NULL;
	memcpy(after->planes, ident->payload.planes, sizeof(after->planes));
	if (usual.rhythm == NOD_RHYTHM_CYCLIC || usual.rhythm == NOD_RHYTHM_MIXED)
		after->prompt_ns = (int64_t)(PROMPT_SHARE * (double)usual.period.ns);
	return ident->after = after;
}

int nod_ident_note_late_change(struct nod_ident *ident, uint64_t changed, nod_time time)
{
	struct nod_after *after = ident->after;

	ident->changing_late |= changed;
	ident->changes_late++;
	if (after && !after->times)
		after->times = calloc(1, sizeof(*after->times));
	if (!after || !after->times)
		return -ENOMEM;
	nod_bit_times_take(after->times, changed, ident->payload.word, time);
	return 0;
}

void nod_ident_end_after(struct nod_ident *ident)
{
	if (ident->after)
		free(ident->after->times);
	free(ident->after);
	ident->after = NULL;
}

/* ---- its period ---- */

/* A number that is another one whenever an interval was kept since: each changes one of these.
 * When `after` is forgotten, period_of is, too. */
static uint32_t samples_of(const struct nod_ident *ident)
{
	const struct nod_sampler *late = ident->after ? &ident->after->intervals : NULL;

	return (uint32_t)ident->settled.used | (uint32_t)ident->settled.stride << 8 |
	       (late ? (uint32_t)late->used << 16 | (uint32_t)late->stride << 24 : 0);
}

static struct nod_period work_out_period(const struct nod_ident *ident)
{
	struct nod_period late = {NOD_RHYTHM_UNKNOWN, NOD_DURATION_NONE, NOD_DURATION_NONE};

	if (ident->after)
		late = nod_sampler_period(&ident->after->intervals);
	return late.rhythm == NOD_RHYTHM_UNKNOWN ? nod_sampler_period(&ident->settled) : late;
}

struct nod_period nod_ident_period(const struct nod_ident *ident)
{
	uint32_t samples = samples_of(ident);

	return samples && samples == ident->period_of ? ident->period : work_out_period(ident);
}

void nod_ident_keep_period(struct nod_ident *ident)
{
	ident->period = nod_ident_period(ident);
	ident->period_of = samples_of(ident);
}

void nod_ident_forget_below(struct nod_ident *ident, int64_t interval_ns)
{
	nod_sampler_forget_below(&ident->settled, interval_ns);
	if (ident->after)
		nod_sampler_forget_below(&ident->after->intervals, interval_ns);
	ident->period_of = 0;
}

bool nod_ident_is_slower(const struct nod_ident *ident, int64_t interval_ns)
{
	bool late = ident->after && nod_sampler_is_enough(&ident->after->intervals);

	return nod_sampler_is_slower(late ? &ident->after->intervals : &ident->settled,
				     interval_ns);
}
