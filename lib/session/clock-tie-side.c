/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "hash.h"
#include "clock-tie-internal.h"

/* Payloads beyond these are left out. Chosen: 24 MiB a recording; what is rare among them is
 * enough to tie anything. */
#define PAYLOADS_MAX 400000

#define FIRST_ROOM 1024

/* A network that was silent for so long wakes with its next frame. Chosen: above the longest period
 * of what is sent all the time. */
#define ASLEEP_NS (5 * NOD_NS_PER_S)

/* Of the IDs of the interface that heard fewer, so many were heard by the other as well. Chosen: a
 * gateway passes on a part. */
#define SHARED_PART 0.9
#define SHARED_LEAST 3

/* Never 0. */
static uint64_t hash_of(uint64_t hash, const void *bytes, size_t length)
{
	hash = nod_hash_add(hash, bytes, length);
	return hash ? hash : 1;
}

static struct nod_tie_item *slot_of(const struct nod_tie_table *t, uint64_t key)
{
	size_t i = (size_t)(key ^ key >> 32) & (t->room - 1);

	while (t->items[i].key && t->items[i].key != key)
		i = (i + 1) & (t->room - 1);
	return &t->items[i];
}

const struct nod_tie_item *nod_tie_item_find(const struct nod_tie_table *table, uint64_t key)
{
	struct nod_tie_item *item = table->room ? slot_of(table, key) : NULL;

	return item && item->key ? item : NULL;
}

static int grow(struct nod_tie_table *t)
{
	struct nod_tie_table more = {.room = t->room ? 2 * t->room : FIRST_ROOM, .used = t->used};

	more.items = calloc(more.room, sizeof(*more.items));
	if (!more.items)
		return -ENOMEM;
	for (size_t i = 0; i < t->room; i++)
		if (t->items[i].key)
			*slot_of(&more, t->items[i].key) = t->items[i];
	free(t->items);
	*t = more;
	return 0;
}

/* The item of a key, made when it is new. NULL: out of memory. */
static struct nod_tie_item *item_of(struct nod_tie_table *t, uint64_t key)
{
	if (2 * t->used >= t->room && grow(t))
		return NULL;
	struct nod_tie_item *item = slot_of(t, key);
	if (!item->key) {
		item->key = key;
		t->used++;
	}
	return item;
}

static int note(struct nod_tie_table *t, uint64_t key, nod_time time)
{
	struct nod_tie_item *item = item_of(t, key);

	if (!item)
		return -ENOMEM;
	if (item->count < NOD_TIE_TIMES)
		item->times[item->count] = time.ns;
	item->count += item->count <= NOD_TIE_TIMES;
	return 0;
}

static int note_rare(struct nod_tie_table *t, uint64_t key, nod_time time)
{
	return t->used < PAYLOADS_MAX || nod_tie_item_find(t, key) ? note(t, key, time) : 0;
}

static uint64_t content_of(const struct nod_frame *f)
{
	return hash_of(hash_of(NOD_HASH_BEGIN, &f->length, sizeof(f->length)), f->data, f->length);
}

static void take_wake(struct nod_tie_side *side, const struct nod_frame *f)
{
	nod_time *heard = &side->heard[f->interface];

	if (heard->ns && f->time.ns - heard->ns >= ASLEEP_NS && side->wake_count < NOD_TIE_WAKES)
		side->wakes[side->wake_count++] = f->time.ns;
	*heard = f->time;
}

/* The first payload of a message is no change: it only says when the recording began. */
static int take_frame(struct nod_tie_side *side, const struct nod_frame *f)
{
	uint32_t id = nod_frame_id(f);
	uint64_t key = hash_of(NOD_HASH_BEGIN, &id, sizeof(id));
	uint64_t sender = hash_of(key, &f->interface, sizeof(f->interface));
	uint64_t payload = hash_of(hash_of(key, &f->length, sizeof(f->length)), f->data, f->length);

	if (nod_frame_is_error(f) || f->id & NOD_ID_REMOTE || f->interface >= NOD_INTERFACES_MAX)
		return 0;
	take_wake(side, f);
	struct nod_tie_item *last = item_of(&side->last, sender), *heard = item_of(&side->ids, key);
	if (!last || !heard)
		return -ENOMEM;
	uint64_t before = (uint64_t)last->times[0];
	heard->times[0] |= (int64_t)(UINT64_C(1) << f->interface);
	last->times[0] = (int64_t)payload;
	if (!before || before == payload)
		return 0;
	int status = note_rare(&side->payloads, payload, f->time);
	return status ? status : note_rare(&side->contents, content_of(f), f->time);
}

static int take_mark(struct nod_tie_side *side, const struct nod_mark *mark)
{
	uint64_t key = hash_of(NOD_HASH_BEGIN, &mark->kind, sizeof(mark->kind));

	if (!nod_mark_is_persons(mark->kind))
		return 0;
	return note(&side->marks, hash_of(key, mark->subject, strlen(mark->subject)), mark->time);
}

int nod_tie_side_take(struct nod_tie_side *side, const struct nod_event *event)
{
	return event->kind == NOD_EVENT_FRAME  ? take_frame(side, &event->frame)
	       : event->kind == NOD_EVENT_MARK ? take_mark(side, &event->mark)
					       : 0;
}

/* How many IDs `interface` heard, and how many of them `other` of the other side as well. */
static size_t count_ids(const struct nod_tie_side *side, unsigned interface,
			const struct nod_tie_side *among, unsigned other, size_t *both)
{
	size_t all = 0;

	*both = 0;
	for (size_t i = 0; i < side->ids.room; i++) {
		const struct nod_tie_item *id = &side->ids.items[i], *there;
		if (!id->key || !(id->times[0] >> interface & 1))
			continue;
		there = nod_tie_item_find(&among->ids, id->key);
		all++;
		*both += there && there->times[0] >> other & 1;
	}
	return all;
}

static bool share_ids(const struct nod_tie_side *first, unsigned interface,
		      const struct nod_tie_side *second, unsigned other)
{
	size_t both, again, here = count_ids(first, interface, second, other, &both);
	size_t there = count_ids(second, other, first, interface, &again);
	size_t least = here < there ? here : there;

	return both >= SHARED_LEAST && (double)both >= SHARED_PART * (double)least;
}

bool nod_tie_same_network(const struct nod_tie_side *first, unsigned interface,
			  const struct nod_tie_side *second, unsigned other)
{
	if (!share_ids(first, interface, second, other))
		return false;
	for (unsigned i = 0; i < NOD_INTERFACES_MAX; i++)
		if ((i != interface && share_ids(first, i, second, other)) ||
		    (i != other && share_ids(first, interface, second, i)))
			return false;
	return true;
}

struct nod_tie_side *nod_tie_side_new(void)
{
	return calloc(1, sizeof(struct nod_tie_side));
}

void nod_tie_side_free(struct nod_tie_side *side)
{
	if (!side)
		return;
	free(side->payloads.items);
	free(side->contents.items);
	free(side->marks.items);
	free(side->ids.items);
	free(side->last.items);
	free(side);
}
