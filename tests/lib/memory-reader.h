/* SPDX-License-Identifier: MIT */
/* A capture in memory, read in pieces of stated or random sizes. */
#ifndef MEMORY_READER_H
#define MEMORY_READER_H

#include <stdint.h>
#include <string.h>

#include "source.h"

struct memory_reader {
	const void *bytes;
	size_t length, at;
	size_t piece;    /* largest piece; 0: everything at once */
	uint64_t random; /* not 0: pieces of 1 to `piece` bytes */
	int failure;     /* negative errno instead of the end, or 0 */
};

static inline ptrdiff_t memory_read(void *context, void *buf, size_t size)
{
	struct memory_reader *reader = context;
	size_t n = reader->length - reader->at;

	if (!n)
		return reader->failure;
	if (reader->piece) {
		size_t piece = reader->piece;
		if (reader->random) { /* xorshift64 */
			reader->random ^= reader->random << 13;
			reader->random ^= reader->random >> 7;
			reader->random ^= reader->random << 17;
			piece = 1 + (size_t)(reader->random % reader->piece);
		}
		n = piece < n ? piece : n;
	}
	n = size < n ? size : n;
	memcpy(buf, (const char *)reader->bytes + reader->at, n);
	reader->at += n;
	return (ptrdiff_t)n;
}

#endif
