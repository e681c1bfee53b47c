/* SPDX-License-Identifier: MIT */
/* A stream of bytes, unpacked when it is gzip or zstd. The packing is told by
 * its magic number. Several members or frames in a row are one stream. */
#ifndef NOD_INFLATE_H
#define NOD_INFLATE_H

#include <stdbool.h>
#include <stddef.h>

#include "source.h"

struct nod_inflate;

/* Reads its first bytes from read(context, ...) at once. Returns NULL with
 * *code a negative errno when that fails or memory ran out. */
struct nod_inflate *nod_inflate_new(nod_read_function *read, void *context, int *code);
void nod_inflate_free(struct nod_inflate *inflate);

/* Up to `size` unpacked bytes into buf; 0 at the end; -EBADMSG when the packed
 * data are damaged, or the negative errno of read(). What could be unpacked
 * before the damage is delivered first. Fits nod_read_function. */
ptrdiff_t nod_inflate_read(void *inflate, void *buf, size_t size);

/* From now on a thread unpacks ahead of nod_inflate_read(). False, and nothing has changed, when
 * there is nothing to unpack or no thread to be had. */
bool nod_inflate_ahead(struct nod_inflate *inflate);

/* The first unpacked bytes (up to NOD_INFLATE_HEAD, fewer only when the stream
 * is shorter); they are still delivered by nod_inflate_read(). */
#define NOD_INFLATE_HEAD 16
const unsigned char *nod_inflate_head(const struct nod_inflate *inflate, size_t *length);

/* True once the stream has ended in the middle of a packed member: to be asked when
 * nod_inflate_read() has said 0 or failed. */
bool nod_inflate_torn(const struct nod_inflate *inflate);

/* ", gzip", ", zstd" or "": what to say behind the name of the form. */
const char *nod_inflate_form(const struct nod_inflate *inflate);

#endif
