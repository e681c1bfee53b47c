/* SPDX-License-Identifier: MIT */
#include "json-read.h"

#include <errno.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

/* Bytes. Chosen: a request of 4096 bytes makes at most 2048 values, of less than 200
 * bytes each. Nothing of it is touched as long as there is memory. */
#define RESERVE ((size_t)512 * 1024)

static _Alignas(max_align_t) unsigned char reserve[RESERVE];
static size_t used;
static bool starved;

static void *take(size_t size)
{
	size_t aligned = (size + _Alignof(max_align_t) - 1) & ~(_Alignof(max_align_t) - 1);
	void *block = starved ? NULL : malloc(size);

	if (block)
		return block;
	starved = true;
	if (aligned < size || aligned > RESERVE - used)
		return NULL;
	used += aligned;
	return reserve + used - aligned;
}

static void give_back(void *block)
{
	uintptr_t at = (uintptr_t)block, begin = (uintptr_t)reserve;

	if (at < begin || at >= begin + RESERVE)
		free(block);
}

json_t *nod_json_read(const char *text, size_t length, size_t flags)
{
	used = 0;
	starved = false;
	json_set_alloc_funcs(take, give_back);
	json_t *value = json_loadb(text, length, flags, NULL);
	if (starved) {
		json_decref(value);
		value = NULL;
	}
	json_set_alloc_funcs(malloc, free);
	if (!value)
		errno = starved ? ENOMEM : EINVAL;
	return value;
}
