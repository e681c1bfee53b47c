/* SPDX-License-Identifier: MIT */
/* malloc() and its kin, of which one fails. */
#include <errno.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "faults-private.h"

static atomic_long blocks;

long faults_blocks(void)
{
	return blocks;
}

#ifdef FAULTS_OWN_MALLOC

bool faults_blocks_are_counted(void)
{
	return true;
}

/* What glibc keeps its own under. */
void *__libc_malloc(size_t size);
void *__libc_calloc(size_t count, size_t size);
void *__libc_realloc(void *old, size_t size);
void __libc_free(void *block);

void *malloc(size_t size)
{
	void *block = faults_strike(FAULT_OF_ALLOCATION, "malloc") ? NULL : __libc_malloc(size);

	blocks += block != NULL;
	return block;
}

void *calloc(size_t count, size_t size)
{
	void *block = faults_strike(FAULT_OF_ALLOCATION, "calloc") ? NULL
								   : __libc_calloc(count, size);
	blocks += block != NULL;
	return block;
}

void *realloc(void *old, size_t size)
{
	/* realloc(old, 0) frees. */
	if ((size || !old) && faults_strike(FAULT_OF_ALLOCATION, "realloc"))
		return NULL;
	void *block = __libc_realloc(old, size);
	blocks += (block != NULL) - (old != NULL && (block || !size));
	return block;
}

void free(void *block)
{
	blocks -= block != NULL;
	__libc_free(block);
}

#else /* the linker leads here */

bool faults_blocks_are_counted(void)
{
	return false;
}

void *__real_malloc(size_t size);
void *__real_calloc(size_t count, size_t size);
void *__real_realloc(void *old, size_t size);
void *__real_reallocarray(void *old, size_t count, size_t size);
char *__real_strdup(const char *text);
char *__real_strndup(const char *text, size_t size);
FILE *__real_open_memstream(char **text, size_t *length);
void *__wrap_malloc(size_t size);
void *__wrap_calloc(size_t count, size_t size);
void *__wrap_realloc(void *old, size_t size);
void *__wrap_reallocarray(void *old, size_t count, size_t size);
char *__wrap_strdup(const char *text);
char *__wrap_strndup(const char *text, size_t size);
FILE *__wrap_open_memstream(char **text, size_t *length);
int __wrap_asprintf(char **text, const char *format, ...);

void *__wrap_malloc(size_t size)
{
	return faults_strike(FAULT_OF_ALLOCATION, "malloc") ? NULL : __real_malloc(size);
}

void *__wrap_calloc(size_t count, size_t size)
{
	return faults_strike(FAULT_OF_ALLOCATION, "calloc") ? NULL : __real_calloc(count, size);
}

void *__wrap_realloc(void *old, size_t size)
{
	return faults_strike(FAULT_OF_ALLOCATION, "realloc") ? NULL : __real_realloc(old, size);
}

void *__wrap_reallocarray(void *old, size_t count, size_t size)
{
	return faults_strike(FAULT_OF_ALLOCATION, "reallocarray")
		       ? NULL
		       : __real_reallocarray(old, count, size);
}

char *__wrap_strdup(const char *text)
{
	return faults_strike(FAULT_OF_ALLOCATION, "strdup") ? NULL : __real_strdup(text);
}

char *__wrap_strndup(const char *text, size_t size)
{
	return faults_strike(FAULT_OF_ALLOCATION, "strndup") ? NULL : __real_strndup(text, size);
}

FILE *__wrap_open_memstream(char **text, size_t *length)
{
	return faults_strike(FAULT_OF_ALLOCATION, "open_memstream")
		       ? NULL
		       : __real_open_memstream(text, length);
}

int __wrap_asprintf(char **text, const char *format, ...)
{
	va_list args;

	if (faults_strike(FAULT_OF_ALLOCATION, "asprintf"))
		return -1; /* *text is then undefined: left as it is */
	va_start(args, format);
	int length = vasprintf(text, format, args);
	va_end(args);
	return length;
}

#endif
