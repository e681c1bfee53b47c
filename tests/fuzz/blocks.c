/* SPDX-License-Identifier: MIT */
/* Large blocks for the fuzzers. ASan maps and unmaps each block of more than 128 KiB anew,
 * its shadow too; the page faults were most of what reading a short capture cost. Here a
 * large block that is freed is kept, poisoned, for the next call that asks for the same
 * size: use after free and a second free are seen until then, reading beyond its ends
 * and losing it always. The linker's --wrap puts these in place of the allocator's
 * functions in everything that is linked statically. */
#define ZSTD_STATIC_LINKING_ONLY
#include <sanitizer/asan_interface.h>
#include <sys/mman.h>
#include <zstd.h>

#include "fuzz.h"

/* Chosen: the buffers of the readers are above, what grows with the input is below. */
#define LARGE ((size_t)24 * 1024)
#define BLOCKS 48

/* ASan's own default for what a new block is filled with, and how far. */
#define FILL 0xBE
#define FILLED 4096

void *__real_malloc(size_t size);
void *__real_calloc(size_t count, size_t size);
void *__real_realloc(void *p, size_t size);
void __real_free(void *p);
void *__wrap_malloc(size_t size);
void *__wrap_calloc(size_t count, size_t size);
void *__wrap_realloc(void *p, size_t size);
void __wrap_free(void *p);

#pragma clang attribute push(__attribute__((no_sanitize("address", "undefined", "coverage"))), \
			     apply_to = function)

/* The address of a block in use is kept inverted, so that a lost one is found lost.
 * Threads of ours allocate nothing large here, for no input is that long. */
static struct {
	uintptr_t in_use;
	void *free;
	size_t size;
} blocks[BLOCKS];

/* ASan puts blocks of larger classes at higher addresses: below there are none of ours. */
static uintptr_t lowest = UINTPTR_MAX;

static int find(const void *p)
{
	for (int i = 0; (uintptr_t)p >= lowest && i < BLOCKS; i++)
		if (blocks[i].in_use == ~(uintptr_t)p)
			return i;
	return -1;
}

static void *take(size_t size)
{
	for (int i = 0; i < BLOCKS; i++)
		if (blocks[i].free && blocks[i].size == size) {
			void *p = blocks[i].free;
			blocks[i].free = NULL;
			blocks[i].in_use = ~(uintptr_t)p;
			ASAN_UNPOISON_MEMORY_REGION(p, size);
			return p;
		}
	return NULL;
}

/* A new one, which is remembered where there is room. */
static void *add(size_t size)
{
	void *p = __real_malloc(size);

	for (int i = 0; p && i < BLOCKS; i++)
		if (!blocks[i].in_use && !blocks[i].free) {
			blocks[i].in_use = ~(uintptr_t)p;
			blocks[i].size = size;
			lowest = (uintptr_t)p < lowest ? (uintptr_t)p : lowest;
			break;
		}
	return p;
}

void *__wrap_malloc(size_t size)
{
	void *p = size < LARGE ? NULL : take(size);

	if (p)
		memset(p, FILL, FILLED);
	return p ? p : size < LARGE ? __real_malloc(size) : add(size);
}

void *__wrap_calloc(size_t count, size_t size)
{
	if (!size || count > SIZE_MAX / size || count * size < LARGE)
		return __real_calloc(count, size);
	size *= count;
	void *p = take(size);
	if (!p)
		p = add(size);
	return p ? memset(p, 0, size) : NULL;
}

void *__wrap_realloc(void *p, size_t size)
{
	int place = find(p);

	if (place >= 0) /* not remembered any more */
		blocks[place].in_use = 0;
	return __real_realloc(p, size);
}

static bool is_free(const void *p)
{
	for (int i = 0; (uintptr_t)p >= lowest && i < BLOCKS; i++)
		if (blocks[i].free == p)
			return true;
	return false;
}

void __wrap_free(void *p)
{
	int place = find(p);

	if (place < 0) {
		FUZZ_CHECK(!p || !is_free(p));
		__real_free(p);
		return;
	}
	blocks[place].in_use = 0;
	blocks[place].free = p;
	ASAN_POISON_MEMORY_REGION(p, blocks[place].size);
}

/* ---- libzstd ---- */

/* A hostile header asks for a window of 128 MiB, whose shadow costs more than all else; what
 * is as large as this is mapped, and only the pages that are touched cost. */
#define HUGE_BLOCK ((size_t)1024 * 1024)
#define HEAD_SIZE 64 /* before the block: its size; keeps it aligned for libzstd */

ZSTD_DStream *__wrap_ZSTD_createDStream(void);

static void *zstd_alloc(void *context, size_t size)
{
	size_t whole = size + HEAD_SIZE;
	char *p;

	(void)context;
	if (whole < HUGE_BLOCK)
		p = __wrap_malloc(whole);
	else
		p = mmap(NULL, whole, PROT_READ | PROT_WRITE,
			 MAP_PRIVATE | MAP_ANONYMOUS | MAP_NORESERVE, -1, 0);
	if (!p || p == MAP_FAILED)
		return NULL;
	memcpy(p, &whole, sizeof(whole));
	return p + HEAD_SIZE;
}

static void zstd_free(void *context, void *p)
{
	char *block = (char *)p - HEAD_SIZE;
	size_t whole;

	(void)context;
	if (!p)
		return;
	memcpy(&whole, block, sizeof(whole));
	if (whole < HUGE_BLOCK)
		__wrap_free(block);
	else
		munmap(block, whole);
}

ZSTD_DStream *__wrap_ZSTD_createDStream(void)
{
	return ZSTD_createDStream_advanced((ZSTD_customMem){zstd_alloc, zstd_free, NULL});
}

#pragma clang attribute pop
