/* SPDX-License-Identifier: MIT */
#include "id-table.h"

#include <errno.h>
#include <stdlib.h>

#define FIRST_ROOM 256

static uint64_t key_of(uint8_t interface, uint32_t id)
{
	return (uint64_t)interface << 32 | id;
}

static struct nod_id_slot *slot_of(const struct nod_id_table *table, uint64_t key)
{
	size_t at = (size_t)(key * UINT64_C(0x9E3779B97F4A7C15) >> 32) & (table->room - 1);

	while (table->slots[at].number && table->slots[at].key != key)
		at = (at + 1) & (table->room - 1);
	return &table->slots[at];
}

uint32_t nod_id_table_find(const struct nod_id_table *table, uint8_t interface, uint32_t id)
{
	return table->room ? slot_of(table, key_of(interface, id))->number : 0;
}

static int grow(struct nod_id_table *table)
{
	struct nod_id_table more = {.room = table->room ? 2 * table->room : FIRST_ROOM,
				    .used = table->used};

	more.slots = calloc(more.room, sizeof(*more.slots));
	if (!more.slots)
		return -ENOMEM;
	for (size_t i = 0; i < table->room; i++)
		if (table->slots[i].number)
			*slot_of(&more, table->slots[i].key) = table->slots[i];
	free(table->slots);
	*table = more;
	return 0;
}

int nod_id_table_add(struct nod_id_table *table, uint8_t interface, uint32_t id, uint32_t number)
{
	if (2 * table->used >= table->room && grow(table))
		return -ENOMEM;
	*slot_of(table, key_of(interface, id)) = (struct nod_id_slot){key_of(interface, id),
								      number};
	table->used++;
	return 0;
}

void nod_id_table_free(struct nod_id_table *table)
{
	free(table->slots);
	*table = (struct nod_id_table){0};
}
