/* SPDX-License-Identifier: MIT */
/* Captures in BLF, a binary form of logs: a header, then containers of objects, packed or
 * not; an object may go on in the next container.
 *
 * Source of the layout: can/io/blf.py of python3-can 4.1 (itself after Toby Lorenz' vector_blf).
 * Taken are CAN messages (types 1, 86), CAN FD messages (100, 101) and error frames (2, 73);
 * other objects say nothing here. Times count from the start that the header names, a date
 * without a time zone that is taken as if it were UTC. Channel 1 is can0. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <zlib.h>

#include "blf-internal.h"

#define HEADER_LEAST 72 /* what is used of it; files say 144 */
#define OBJECT_HEADER 16

/* Chosen: writers make containers of 128 KiB; far above that it is damage. */
#define CONTAINER_MOST ((size_t)64 << 20)
#define OBJECT_MOST ((size_t)1 << 20)

/* ---- bytes ---- */

/* As many as asked for, fewer at the end; negative errno. */
static ptrdiff_t read_bytes(struct nod_blf_source *s, uint8_t *to, size_t size)
{
	size_t got = 0;

	while (got < size) {
		ptrdiff_t n = nod_inflate_read(s->base.input.inflate, to + got, size - got);
		if (n < 0)
			return n;
		if (!n)
			break;
		got += (size_t)n;
	}
	return (ptrdiff_t)got;
}

/* Passes over bytes. 0, or 1 at the end; negative errno. */
static int skip_bytes(struct nod_blf_source *s, size_t size)
{
	uint8_t nothing[512];

	while (size) {
		size_t piece = size < sizeof(nothing) ? size : sizeof(nothing);
		ptrdiff_t n = read_bytes(s, nothing, piece);
		if (n < 0 || (size_t)n < piece)
			return n < 0 ? (int)n : 1;
		size -= piece;
	}
	return 0;
}

/* Room for `size` bytes behind what is left of the container before. */
static uint8_t *make_room(struct nod_blf_source *s, size_t size)
{
	memmove(s->bytes, s->bytes + s->at, s->end - s->at);
	s->end -= s->at;
	s->at = 0;
	if (s->end + size > s->room) {
		uint8_t *grown = realloc(s->bytes, s->end + size);
		if (!grown)
			return NULL;
		s->bytes = grown;
		s->room = s->end + size;
	}
	return s->bytes + s->end;
}

static int unpack(struct nod_blf_source *s, const uint8_t *packed, size_t size, size_t unpacked)
{
	uint8_t *to = make_room(s, unpacked + 1);
	uLongf length = unpacked;

	if (!to)
		return -ENOMEM;
	if (uncompress(to, &length, packed, size) != Z_OK)
		return -EBADMSG;
	s->end += length;
	return 0;
}

/* The content of a container: method, size, bytes. */
static int take_container(struct nod_blf_source *s, uint8_t *content, size_t size)
{
	if (size < 16)
		return -EBADMSG;
	unsigned method = nod_blf_u16(content);
	size_t unpacked = nod_blf_u32(content + 8);
	if (method == 2)
		return unpacked > CONTAINER_MOST ? -EBADMSG
						 : unpack(s, content + 16, size - 16, unpacked);
	if (method)
		return -EBADMSG;
	uint8_t *to = make_room(s, size - 16);
	if (!to)
		return -ENOMEM;
	memcpy(to, content + 16, size - 16);
	s->end += size - 16;
	return 0;
}

/* An object outside a container. A file may hold them so. */
static int take_bare(struct nod_blf_source *s, const uint8_t *header, const uint8_t *content,
		     size_t size)
{
	uint8_t *to = make_room(s, OBJECT_HEADER + size);

	if (!to)
		return -ENOMEM;
	memcpy(to, header, OBJECT_HEADER);
	memcpy(to + OBJECT_HEADER, content, size);
	s->end += OBJECT_HEADER + size;
	return 0;
}

/* The next container. 1, 0 at the end of the file, or a negative errno. */
static int fill(struct nod_blf_source *s)
{
	uint8_t header[OBJECT_HEADER], *content;
	ptrdiff_t n = read_bytes(s, header, sizeof(header));

	if (n <= 0)
		return (int)n;
	size_t size = nod_blf_u32(header + 8);
	if ((size_t)n < sizeof(header) || memcmp(header, "LOBJ", 4) || size < OBJECT_HEADER ||
	    size > CONTAINER_MOST)
		return (size_t)n < sizeof(header) ? (s->base.counts.torn = true, 0) : -EBADMSG;
	size -= OBJECT_HEADER;
	content = malloc(size + 1);
	if (!content)
		return -ENOMEM;
	n = read_bytes(s, content, size);
	int status = n < 0 ? (int)n : 1;
	if (n >= 0 && (size_t)n < size) {
		s->base.counts.torn = true;
		status = 0;
	}
	if (status > 0)
		status = nod_blf_u32(header + 12) == NOD_BLF_CONTAINER
				 ? take_container(s, content, size)
				 : take_bare(s, header, content, size);
	free(content);
	if (!status && !s->base.counts.torn)
		status = skip_bytes(s, (size + OBJECT_HEADER) % 4) < 0 ? -EIO : 1;
	return status;
}

/* ---- objects ---- */

/* The next whole object, up to 8 bytes of padding behind the one before; NULL: there is none yet.
 * *bad: what stands there is no object. */
static const uint8_t *next_object(struct nod_blf_source *s, size_t *size, bool *bad)
{
	size_t left = s->end - s->at, skip = 0;

	*bad = false;
	while (skip < 8 && skip + 4 <= left && memcmp(s->bytes + s->at + skip, "LOBJ", 4))
		skip++;
	if (skip + NOD_BLF_OBJECT_TIMED > left) {
		*bad = left >= 8 + NOD_BLF_OBJECT_TIMED;
		return NULL;
	}
	const uint8_t *object = s->bytes + s->at + skip;
	*size = nod_blf_u32(object + 8);
	*bad = memcmp(object, "LOBJ", 4) || *size < OBJECT_HEADER || *size > OBJECT_MOST;
	if (*bad || skip + *size > left)
		return NULL;
	s->at += skip + *size;
	return object;
}

static int damaged(struct nod_blf_source *s, const struct nod_event **event)
{
	s->ended = true;
	s->base.counts.torn = true;
	return nod_source_deliver_defect(&s->base, event, s->objects + 1, 0,
					 "the file is damaged here: nothing behind can be read");
}

static int blf_next(struct nod_source *base, const struct nod_event **event, struct nod_error *err)
{
	struct nod_blf_source *s = (struct nod_blf_source *)base;
	bool bad = false;
	size_t size;

	while (!s->ended) {
		const uint8_t *object = next_object(s, &size, &bad);
		if (bad)
			return damaged(s, event);
		if (object) {
			if (size >= NOD_BLF_OBJECT_TIMED &&
			    nod_blf_take_object(s, object, size, event))
				return 1;
			continue;
		}
		int status = fill(s);
		if (status == -EBADMSG)
			return damaged(s, event);
		if (status < 0)
			return nod_source_read_failed(base, status, err);
		s->ended = !status;
		base->counts.torn |= s->ended && s->end - s->at >= NOD_BLF_OBJECT_TIMED;
	}
	base->counts.torn |= nod_inflate_torn(base->input.inflate);
	return 0;
}

static void blf_counts(const struct nod_source *base, struct nod_source_counts *counts)
{
	*counts = base->counts;
	counts->lines = ((const struct nod_blf_source *)base)->objects;
}

static void blf_close(struct nod_source *base)
{
	free(((struct nod_blf_source *)base)->bytes);
	nod_source_free(base);
}

static const struct nod_source_ops blf_ops = {
	.next = blf_next, .counts = blf_counts, .close = blf_close};

/* Year, month, day of the week, day, hour, minute, second, millisecond; all zero: not said. */
static int64_t start_of(const uint8_t *p)
{
	struct tm tm = {.tm_year = nod_blf_u16(p) - 1900,
			.tm_mon = nod_blf_u16(p + 2) - 1,
			.tm_mday = nod_blf_u16(p + 6),
			.tm_hour = nod_blf_u16(p + 8),
			.tm_min = nod_blf_u16(p + 10),
			.tm_sec = nod_blf_u16(p + 12)};

	if (nod_blf_u16(p) < 1970 || nod_blf_u16(p) > 2200 || tm.tm_mon < 0 || tm.tm_mon > 11 ||
	    tm.tm_mday < 1 || tm.tm_mday > 31 || tm.tm_hour > 23 || tm.tm_min > 59 ||
	    tm.tm_sec > 60)
		return 0;
	return timegm(&tm) * NOD_NS_PER_S + nod_blf_u16(p + 14) % 1000 * NOD_NS_PER_MS;
}

static int read_header(struct nod_blf_source *s, struct nod_error *err)
{
	uint8_t header[HEADER_LEAST];
	ptrdiff_t n = read_bytes(s, header, sizeof(header));

	if (n < 0)
		return nod_source_read_failed(&s->base, (int)n, err);
	size_t size = (size_t)n < 8 ? 0 : nod_blf_u32(header + 4);
	if ((size_t)n < sizeof(header) || size < sizeof(header) || size > OBJECT_MOST)
		return nod_error_set(err, EINVAL, "%s: a BLF file whose header is damaged",
				     s->base.input.name);
	s->start_ns = start_of(header + 40);
	n = skip_bytes(s, size - sizeof(header));
	return n < 0 ? nod_source_read_failed(&s->base, (int)n, err) : 0;
}

struct nod_source *nod_source_blf(struct nod_input input, struct nod_interfaces *table,
				  struct nod_error *err)
{
	struct nod_blf_source *s = calloc(1, sizeof(*s));

	if (!s)
		return nod_source_no_memory(&input, err);
	nod_source_init(&s->base, &blf_ops, input, table);
	s->names.table = table;
	snprintf(s->base.form, sizeof(s->base.form), "BLF%s", nod_inflate_form(input.inflate));
	s->bytes = malloc(CONTAINER_MOST / 512);
	s->room = CONTAINER_MOST / 512;
	int status = s->bytes ? read_header(s, err) : nod_error_set(err, ENOMEM, "out of memory");
	if (status) {
		blf_close(&s->base);
		errno = -status;
		return NULL;
	}
	return &s->base;
}
