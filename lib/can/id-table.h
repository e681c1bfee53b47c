/* SPDX-License-Identifier: MIT */
/* Records that are kept one a message, found by interface and ID: the table holds their numbers,
 * the records themselves lie in an array of whoever keeps them. */
#ifndef NOD_ID_TABLE_H
#define NOD_ID_TABLE_H

#include <stddef.h>
#include <stdint.h>

struct nod_id_slot {
	uint64_t key;    /* interface and ID */
	uint32_t number; /* 0: free */
};

/* Begins as all zero. */
struct nod_id_table {
	struct nod_id_slot *slots; /* open addressing, at most half of them used */
	size_t room, used;         /* room: a power of two, or 0 */
};

/* The number of an ID, 0 when it has none. */
uint32_t nod_id_table_find(const struct nod_id_table *table, uint8_t interface, uint32_t id);

/* Gives an ID that has none a number from 1 on. Returns 0 or -ENOMEM. */
int nod_id_table_add(struct nod_id_table *table, uint8_t interface, uint32_t id, uint32_t number);

void nod_id_table_free(struct nod_id_table *table);

#endif
