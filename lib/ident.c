#include "ident.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

/* The slot of an extended ID: where it is or where it would go. */
static uint32_t *extended_slot(const struct nod_idents *idents, uint32_t id)
{
	uint32_t mask = idents->extended_size - 1;

	for (uint32_t i = nod_idents_hash(idents, id);; i = (i + 1) & mask) {
		uint32_t index = idents->extended[i];
		if (!index || idents->items[index - 1].id == id)
			return &idents->extended[i];
	}
}

static int grow_extended(struct nod_idents *idents)
{
	uint32_t size = idents->extended_size ? idents->extended_size * 2 : 256;
	uint32_t *old = idents->extended, *table = calloc(size, sizeof(*table));

	if (!table)
		return -ENOMEM;
	idents->extended = table;
	idents->extended_size = size;
	free(old);
	for (uint32_t i = 0; i < idents->count; i++)
		if (idents->items[i].id & NOD_ID_EXTENDED)
			*extended_slot(idents, idents->items[i].id) = i + 1;
	return 0;
}

/* The table entry that holds, or will hold, the index of an ID. */
static uint32_t *slot_of(struct nod_idents *idents, uint32_t id)
{
	if (!(id & NOD_ID_EXTENDED))
		return &idents->standard[id & NOD_ID_STANDARD_MASK];
	if (idents->extended_used * 2 >= idents->extended_size && grow_extended(idents))
		return NULL;
	return extended_slot(idents, id);
}

static int make_room(struct nod_idents *idents)
{
	if (idents->count >= NOD_IDENTS_MAX)
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

static struct nod_ident *add(struct nod_idents *idents, uint32_t *slot, uint32_t id)
{
	if (make_room(idents))
		return NULL;
	struct nod_ident *ident = &idents->items[idents->count];
	memset(ident, 0, sizeof(*ident));
	ident->id = id;
	ident->first = ident->last = ident->last_change = ident->span_first = NOD_TIME_NONE;
	nod_payload_init(&ident->payload);
	*slot = ++idents->count;
	idents->extended_used += (id & NOD_ID_EXTENDED) != 0;
	return ident;
}

struct nod_ident *nod_idents_search(struct nod_idents *idents, uint32_t id)
{
	uint32_t *slot = slot_of(idents, id);

	if (!slot)
		return NULL;
	return *slot ? &idents->items[*slot - 1] : add(idents, slot, id);
}

struct nod_ident *nod_idents_find(const struct nod_idents *idents, uint32_t id)
{
	uint32_t index = 0;

	if (!(id & NOD_ID_EXTENDED))
		index = idents->standard[id & NOD_ID_STANDARD_MASK];
	else if (idents->extended_size)
		index = *extended_slot(idents, id);
	return index ? &idents->items[index - 1] : NULL;
}

void nod_idents_clear(struct nod_idents *idents)
{
	for (uint32_t i = 0; i < idents->count; i++) {
		nod_payload_clear(&idents->items[i].payload);
		free(idents->items[i].late);
		free(idents->items[i].node);
	}
	free(idents->items);
	free(idents->extended);
	memset(idents, 0, sizeof(*idents));
}

static void sample_interval(struct nod_ident *ident, enum nod_phase phase, int64_t interval)
{
	if (phase != NOD_PHASE_LATE) {
		nod_sampler_take(&ident->settled, interval);
		return;
	}
	if (!ident->late)
		ident->late = calloc(1, sizeof(*ident->late)); /* without it the period stays unknown */
	if (ident->late)
		nod_sampler_take(ident->late, interval);
}

void nod_ident_take(struct nod_ident *ident, const struct nod_frame *frame, enum nod_phase phase,
		    int64_t interval)
{
	uint64_t changed = nod_payload_take(&ident->payload, frame);

	ident->frames[phase]++;
	if (!nod_time_is_set(ident->first))
		ident->first = frame->time;
	if (frame->time.ns > ident->last.ns)
		ident->last = frame->time;
	if (interval >= 0)
		sample_interval(ident, phase, interval);
	if (changed) {
		ident->changing |= changed;
		ident->last_change = frame->time;
		if (phase == NOD_PHASE_LATE) {
			ident->changing_late |= changed;
			ident->changes_late++;
		}
	}
}
