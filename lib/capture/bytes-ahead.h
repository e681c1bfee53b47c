/* SPDX-License-Identifier: MIT */
/* Reads ahead by a thread: bytes come through a ring of blocks, as another
 * nod_read_function gives them. */
#ifndef NOD_BYTES_AHEAD_H
#define NOD_BYTES_AHEAD_H

#include <stddef.h>

#include "source.h"

struct nod_bytes_ahead;

/* From now on only a thread calls read(context, ...), until it has said 0 or a
 * negative errno or it is freed. NULL when there is no memory or no thread. */
struct nod_bytes_ahead *nod_bytes_ahead_new(nod_read_function *read, void *context);

/* What read() gave: bytes, then for ever its 0 or negative errno. What read() did before it said
 * that is seen by the caller then. */
ptrdiff_t nod_bytes_ahead_read(struct nod_bytes_ahead *ahead, void *buf, size_t size);

/* Waits for a call of read() to return. NULL is fine. */
void nod_bytes_ahead_free(struct nod_bytes_ahead *ahead);

#endif
