/* SPDX-License-Identifier: MIT */
/* FNV-1a of 64 bits (draft-eastlake-fnv): quick, for tables and to tell contents apart; whoever
 * could want two to be the same needs digest.h. */
#ifndef NOD_HASH_H
#define NOD_HASH_H

#include <stddef.h>
#include <stdint.h>

#define NOD_HASH_BEGIN UINT64_C(0xcbf29ce484222325)

/* Goes on from where it stood. */
static inline uint64_t nod_hash_add(uint64_t hash, const void *bytes, size_t length)
{
	for (const unsigned char *b = (const unsigned char *)bytes; length--; b++)
		hash = (hash ^ *b) * UINT64_C(0x100000001b3);
	return hash;
}

#endif
