/* SPDX-License-Identifier: MIT */
/* What the fuzz targets share: a check that also stands in release builds, and
 * pieces of the input as numbers and texts. Input that is used up reads as 0. */
#ifndef FUZZ_H
#define FUZZ_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* An invariant that the input broke. */
#define FUZZ_CHECK(condition)                                                                   \
	do {                                                                                    \
		if (!(condition)) {                                                             \
			fprintf(stderr, "%s:%d: broken: %s\n", __FILE__, __LINE__, #condition); \
			abort();                                                                \
		}                                                                               \
	} while (0)

struct fuzz_input {
	const uint8_t *p;
	size_t left;
};

static inline uint8_t fuzz_byte(struct fuzz_input *in)
{
	if (!in->left)
		return 0;
	in->left--;
	return *in->p++;
}

/* `bytes` of them, the first one lowest. */
static inline uint64_t fuzz_number(struct fuzz_input *in, unsigned bytes)
{
	uint64_t value = 0;

	for (unsigned i = 0; i < bytes; i++)
		value |= (uint64_t)fuzz_byte(in) << 8 * i;
	return value;
}

/* A copy of exactly `size` bytes and a terminating zero, so that a read beyond it
 * is seen. The caller frees it. */
static inline char *fuzz_text(const void *bytes, size_t size)
{
	char *copy = malloc(size + 1);

	if (!copy)
		abort();
	if (size)
		memcpy(copy, bytes, size);
	copy[size] = '\0';
	return copy;
}

/* The input up to the next `end` (which is taken, too) or its end, as fuzz_text(). */
static inline char *fuzz_text_until(struct fuzz_input *in, char end)
{
	const uint8_t *found = in->left ? memchr(in->p, end, in->left) : NULL;
	size_t length = found ? (size_t)(found - in->p) : in->left;
	char *copy = fuzz_text(in->p, length);

	in->p += length + (found != NULL);
	in->left -= length + (found != NULL);
	return copy;
}

/* The same; NULL when it is empty. */
static inline char *fuzz_option(struct fuzz_input *in)
{
	char *text = fuzz_text_until(in, '\n');

	if (*text)
		return text;
	free(text);
	return NULL;
}

#endif
