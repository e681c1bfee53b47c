/* SPDX-License-Identifier: MIT */
/* Names to numbers, compared without case (ASCII): finds a name among many
 * thousands without comparing each. */
#ifndef NOD_NAME_TABLE_H
#define NOD_NAME_TABLE_H

#include <stddef.h>

#define NOD_NAME_UNKNOWN (-1)

struct nod_name_slot {
	const char *name; /* NULL: free */
	int value;
};

/* All zero is an empty table. Names are not copied and must outlive it. */
struct nod_name_table {
	struct nod_name_slot *slots;
	size_t room; /* a power of two, or 0 */
	size_t used;
};

/* The value of a name, NOD_NAME_UNKNOWN when it is not there. */
int nod_name_table_find(const struct nod_name_table *table, const char *name);

/* Adds a name that is not there yet with a value >= 0. Returns 0 or -ENOMEM. */
int nod_name_table_add(struct nod_name_table *table, const char *name, int value);

/* Leaves an empty table. */
void nod_name_table_clear(struct nod_name_table *table);

#endif
