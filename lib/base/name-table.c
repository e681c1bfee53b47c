/* SPDX-License-Identifier: MIT */
#include "name-table.h"

#include <errno.h>
#include <stdint.h>
#include <stdlib.h>
#include <strings.h>

#include "hash.h"

#define ROOM_FIRST 16

/* Over lower-case letters. */
static uint64_t hash(const char *name)
{
	uint64_t h = NOD_HASH_BEGIN;

	for (; *name; name++) {
		unsigned char c = (unsigned char)*name;
		c = (unsigned char)(c >= 'A' && c <= 'Z' ? c + 32 : c);
		h = nod_hash_add(h, &c, 1);
	}
	return h ^ h >> 32;
}

/* The slot that holds the name, or the free one where it belongs. */
static struct nod_name_slot *slot_of(const struct nod_name_table *table, const char *name)
{
	size_t at = (size_t)hash(name) & (table->room - 1);

	while (table->slots[at].name && strcasecmp(table->slots[at].name, name))
		at = (at + 1) & (table->room - 1);
	return &table->slots[at];
}

int nod_name_table_find(const struct nod_name_table *table, const char *name)
{
	if (!table->used)
		return NOD_NAME_UNKNOWN;
	const struct nod_name_slot *slot = slot_of(table, name);
	return slot->name ? slot->value : NOD_NAME_UNKNOWN;
}

static int grow(struct nod_name_table *table)
{
	struct nod_name_table larger = {.room = table->room ? table->room * 2 : ROOM_FIRST};

	larger.slots = calloc(larger.room, sizeof(*larger.slots));
	if (!larger.slots)
		return -ENOMEM;
	for (size_t i = 0; i < table->room; i++)
		if (table->slots[i].name)
			*slot_of(&larger, table->slots[i].name) = table->slots[i];
	larger.used = table->used;
	free(table->slots);
	*table = larger;
	return 0;
}

int nod_name_table_add(struct nod_name_table *table, const char *name, int value)
{
	if (table->used + 1 > table->room / 2 && grow(table))
		return -ENOMEM;
	*slot_of(table, name) = (struct nod_name_slot){name, value};
	table->used++;
	return 0;
}

void nod_name_table_clear(struct nod_name_table *table)
{
	free(table->slots);
	*table = (struct nod_name_table){0};
}
