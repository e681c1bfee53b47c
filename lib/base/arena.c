/* SPDX-License-Identifier: MIT */
#include "arena.h"

#include <stdalign.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>

struct nod_arena_block {
	struct nod_arena_block *next;
	alignas(max_align_t) unsigned char bytes[];
};

void *nod_arena_alloc(struct nod_arena *arena, size_t size)
{
	struct nod_arena_block *block = calloc(1, sizeof(*block) + size);

	if (!block) {
		arena->failed = 1;
		return NULL;
	}
	block->next = arena->blocks;
	arena->blocks = block;
	return block->bytes;
}

const char *nod_arena_printf(struct nod_arena *arena, const char *format, ...)
{
	va_list args, again;
	va_start(args, format);
	va_copy(again, args);
	int length = vsnprintf(NULL, 0, format, args);
	char *text = length < 0 ? NULL : nod_arena_alloc(arena, (size_t)length + 1);
	if (text)
		vsnprintf(text, (size_t)length + 1, format, again);
	va_end(again);
	va_end(args);
	return text ? text : "";
}

void nod_arena_free(struct nod_arena *arena)
{
	while (arena->blocks) {
		struct nod_arena_block *next = arena->blocks->next;
		free(arena->blocks);
		arena->blocks = next;
	}
}
