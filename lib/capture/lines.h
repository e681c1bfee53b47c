/* SPDX-License-Identifier: MIT */
/* Lines out of a stream of bytes, in bounded memory. */
#ifndef NOD_LINES_H
#define NOD_LINES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "source.h"

/* Longest line taken, without its end. Chosen: the longest candump line is
 * about 250 characters; comments may be longer. */
#define NOD_LINE_MAX ((size_t)4096)

/* A first line as long as this is none: the rest is not read. Chosen: no tool writes such a
 * line, and an endless device (/dev/zero) is left after a moment. */
#define NOD_LINE_ENDLESS ((size_t)16 * 1024 * 1024)

/* Unpacked bytes held at once. Chosen: larger ones are no faster. */
#define NOD_LINES_BUFFER ((size_t)256 * 1024)

/* Readable bytes (of no meaning) behind every line and window. */
#define NOD_LINES_PADDING ((size_t)32)

struct nod_lines {
	nod_read_function *read;
	void *context;
	char *buffer;
	size_t begin, end; /* bytes not yet taken */
	size_t searched;   /* of those, bytes known to hold no newline */
	bool ended;        /* read() has said 0 */
	bool skipping;     /* inside a line that is too long */
	size_t skipped;    /* bytes of it */
	uint64_t number;   /* of the line taken last, from 1 */
};

struct nod_line {
	const char *text; /* not terminated; valid until the next call */
	size_t length;    /* without the newline (and a carriage return before it) */
	bool torn;        /* the stream ended before a newline */
	bool too_long;    /* longer than NOD_LINE_MAX: the text is not kept */
};

/* Returns 0 or -ENOMEM. */
int nod_lines_init(struct nod_lines *lines, nod_read_function *read, void *context);
void nod_lines_free(struct nod_lines *lines);

/* The next line. Returns 1, 0 at the end, the negative errno of read(), or -EFBIG at a first
 * line of NOD_LINE_ENDLESS bytes. */
int nod_lines_next(struct nod_lines *lines, struct nod_line *line);

/* Reads more into the buffer without taking anything. Returns bytes added, 0
 * when the stream has ended or the buffer is full, or a negative errno. */
ptrdiff_t nod_lines_fill(struct nod_lines *lines);

#endif
