/* SPDX-License-Identifier: MIT */
/* A stdio stream into memory that says when memory ran out.
 *
 * As open_memstream(), but that of glibc loses what does not fit any more without
 * setting the stream's error, so that a page cut short passes for a whole one. */
#ifndef NOD_TEXT_STREAM_H
#define NOD_TEXT_STREAM_H

#include <stddef.h>
#include <stdio.h>

struct nod_text_stream {
	FILE *out;   /* write here */
	char *text;  /* valid after nod_text_stream_close(): terminated; the caller frees it */
	size_t size; /* bytes without the terminator */
	size_t room;
};

/* Begins one at the address given, which must stay until it is closed. 0 or -ENOMEM. */
int nod_text_stream_open(struct nod_text_stream *stream);

/* Ends it. 0, or -ENOMEM: something is missing, and the text is freed and NULL. */
int nod_text_stream_close(struct nod_text_stream *stream);

#endif
