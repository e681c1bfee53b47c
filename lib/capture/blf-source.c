/* Captures in BLF, a binary form of logs: a header, then containers of objects, packed or
 * not; an object may go on in the next container.
 *
 * Source of the layout: can/io/blf.py of python3-can 4.1 (itself after Toby Lorenz' vector_blf).
 * Taken are CAN messages (types 1, 86), CAN FD messages (100, 101) and error frames (2, 73);
 * other objects say nothing here. Times count from the start that the header names, a date
 * without a time zone that is taken as if it were UTC. Channel 1 is can0. */
#include <endian.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <zlib.h>

#include "other-log.h"
#include "source-private.h"

#define HEADER_LEAST 72 /* what is used of it; files say 144 */
#define OBJECT_HEADER 16
#define OBJECT_TIMED 32 /* with flags and time, versions 1 and 2 (the latter longer) */

/* Chosen: writers make containers of 128 KiB; far above that it is damage. */
#define CONTAINER_MOST ((size_t)64 << 20)
#define OBJECT_MOST ((size_t)1 << 20)

enum { CAN_MESSAGE = 1, CAN_ERROR = 2, CONTAINER = 10, CAN_ERROR_EXT = 73, CAN_MESSAGE2 = 86,
       CAN_FD_MESSAGE = 100, CAN_FD_MESSAGE_64 = 101 };

struct blf_source {
	struct nod_source base;
	struct nod_other_log names; /* of channels */
	int64_t start_ns;
	uint8_t *bytes; /* unpacked objects, from `at` to `end` */
	size_t at, end, room;
	uint64_t objects;
	bool ended;
};

static uint16_t u16(const uint8_t *p)
{
	return (uint16_t)(p[0] | p[1] << 8);
}

static uint32_t u32(const uint8_t *p)
{
	return (uint32_t)u16(p) | (uint32_t)u16(p + 2) << 16;
}

static uint64_t u64(const uint8_t *p)
{
	return u32(p) | (uint64_t)u32(p + 4) << 32;
}

/* ---- bytes ---- */

/* As many as asked for, fewer at the end; negative errno. */
static ptrdiff_t read_bytes(struct blf_source *s, uint8_t *to, size_t size)
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
static int skip_bytes(struct blf_source *s, size_t size)
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
static uint8_t *make_room(struct blf_source *s, size_t size)
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

static int unpack(struct blf_source *s, const uint8_t *packed, size_t size, size_t unpacked)
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
static int take_container(struct blf_source *s, uint8_t *content, size_t size)
{
	if (size < 16)
		return -EBADMSG;
	unsigned method = u16(content);
	size_t unpacked = u32(content + 8);
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
static int take_bare(struct blf_source *s, const uint8_t *header, const uint8_t *content, size_t size)
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
static int fill(struct blf_source *s)
{
	uint8_t header[OBJECT_HEADER], *content;
	ptrdiff_t n = read_bytes(s, header, sizeof(header));

	if (n <= 0)
		return (int)n;
	size_t size = u32(header + 8);
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
		status = u32(header + 12) == CONTAINER ? take_container(s, content, size)
						       : take_bare(s, header, content, size);
	free(content);
	if (!status && !s->base.counts.torn)
		status = skip_bytes(s, (size + OBJECT_HEADER) % 4) < 0 ? -EIO : 1;
	return status;
}

/* ---- objects ---- */

static bool take_time(struct blf_source *s, const uint8_t *object, struct nod_frame *frame)
{
	uint64_t time = u64(object + 24), unit = u32(object + 16) == 1 ? 10000 : 1;
	int64_t ns;

	if (time > (uint64_t)INT64_MAX / unit ||
	    __builtin_add_overflow(s->start_ns, (int64_t)(time * unit), &ns) ||
	    !nod_time_is_loggable((nod_time){ns}))
		return false;
	frame->time.ns = ns;
	return true;
}

static void take_id(struct nod_frame *frame, uint32_t id)
{
	frame->id |= id & NOD_ID_EXTENDED ? NOD_ID_EXTENDED | (id & NOD_ID_EXTENDED_MASK)
					  : id & NOD_ID_STANDARD_MASK;
}

static const char *classical(struct nod_frame *frame, const uint8_t *body, size_t size)
{
	if (size < 16)
		return "a CAN message that is too short";
	nod_frame_classical(frame, body[3] & 15);
	frame->id = body[2] & 0x80 ? NOD_ID_REMOTE : 0;
	frame->flags |= body[2] & 1 ? NOD_FRAME_SENT : NOD_FRAME_RECEIVED;
	take_id(frame, u32(body + 4));
	if (!(frame->id & NOD_ID_REMOTE))
		memcpy(frame->data, body + 8, frame->length);
	return NULL;
}

/* What both objects of CAN FD have, wherever it stands in them. */
static const char *fd(struct nod_frame *frame, unsigned valid, unsigned dlc, bool is_fd, bool remote,
		      const uint8_t *data, size_t size)
{
	frame->id |= remote ? NOD_ID_REMOTE : 0;
	if (!is_fd || remote) { /* CAN FD has no remote frames */
		frame->flags &= (uint8_t)~(NOD_FRAME_BRS | NOD_FRAME_ESI);
		nod_frame_classical(frame, dlc & 15);
	} else {
		frame->flags |= NOD_FRAME_FD;
		frame->length = nod_fd_length(dlc);
	}
	if (remote)
		return NULL;
	if (valid < frame->length) {
		frame->length = (uint8_t)valid;
		frame->raw_dlc = 0;
	}
	if (frame->length > 8 && !nod_scan_fd_length(frame->length))
		return "a length that CAN FD does not have";
	if (size < frame->length)
		return "a CAN FD message that is too short";
	memcpy(frame->data, data, frame->length);
	return NULL;
}

static const char *fd_message(struct nod_frame *frame, const uint8_t *body, size_t size)
{
	if (size < 20)
		return "a CAN FD message that is too short";
	unsigned flags = body[13];
	frame->flags |= (uint8_t)((body[2] & 1 ? NOD_FRAME_SENT : NOD_FRAME_RECEIVED) |
				  (flags & 2 ? NOD_FRAME_BRS : 0) | (flags & 4 ? NOD_FRAME_ESI : 0));
	take_id(frame, u32(body + 4));
	return fd(frame, body[14], body[3], flags & 1, body[2] & 0x80, body + 20, size - 20);
}

static const char *fd_message_64(struct nod_frame *frame, const uint8_t *body, size_t size)
{
	if (size < 40)
		return "a CAN FD message that is too short";
	uint32_t flags = u32(body + 12);
	frame->flags |= (uint8_t)((body[34] ? NOD_FRAME_SENT : NOD_FRAME_RECEIVED) |
				  (flags & 0x2000 ? NOD_FRAME_BRS : 0) |
				  (flags & 0x4000 ? NOD_FRAME_ESI : 0));
	take_id(frame, u32(body + 4));
	return fd(frame, body[2], body[1], flags & 0x1000, flags & 0x10, body + 40, size - 40);
}

static const char *error(struct nod_frame *frame, size_t size)
{
	frame->id = NOD_ID_ERROR;
	frame->length = 8;
	return size < 2 ? "an error frame that is too short" : NULL;
}

/* 1 with an event, 0 for an object that is no frame. */
static int take_object(struct blf_source *s, const uint8_t *object, size_t size,
		       const struct nod_event **event)
{
	struct nod_frame *frame = &s->base.event.frame;
	unsigned type = u32(object + 12), header = u16(object + 4);
	bool known = type == CAN_MESSAGE || type == CAN_MESSAGE2 || type == CAN_ERROR ||
		     type == CAN_ERROR_EXT || type == CAN_FD_MESSAGE || type == CAN_FD_MESSAGE_64;
	const char *reason;

	s->objects++;
	if (!known)
		return 0;
	header = header < OBJECT_TIMED ? OBJECT_TIMED : header;
	if (size < header + 2u)
		return nod_source_deliver_defect(&s->base, event, s->objects, 0, "an object that is too short");
	const uint8_t *body = object + header;
	*frame = (struct nod_frame){0};
	size -= header;
	reason = type == CAN_MESSAGE || type == CAN_MESSAGE2 ? classical(frame, body, size)
		 : type == CAN_FD_MESSAGE		     ? fd_message(frame, body, size)
		 : type == CAN_FD_MESSAGE_64		     ? fd_message_64(frame, body, size)
							     : error(frame, size);
	if (!reason && !take_time(s, object, frame))
		reason = "a time that is out of range";
	unsigned channel = type == CAN_FD_MESSAGE_64 ? body[0] : u16(body);
	if (!reason && !nod_channel_name(&s->names, frame, channel))
		reason = "more than 255 different interface names";
	return reason ? nod_source_deliver_defect(&s->base, event, s->objects, 0, reason)
		      : nod_source_deliver_frame(&s->base, event);
}

/* The next whole object, up to 8 bytes of padding behind the one before; NULL: there is none yet.
 * *bad: what stands there is no object. */
static const uint8_t *next_object(struct blf_source *s, size_t *size, bool *bad)
{
	size_t left = s->end - s->at, skip = 0;

	*bad = false;
	while (skip < 8 && skip + 4 <= left && memcmp(s->bytes + s->at + skip, "LOBJ", 4))
		skip++;
	if (skip + OBJECT_TIMED > left) {
		*bad = left >= 8 + OBJECT_TIMED;
		return NULL;
	}
	const uint8_t *object = s->bytes + s->at + skip;
	*size = u32(object + 8);
	*bad = memcmp(object, "LOBJ", 4) || *size < OBJECT_HEADER || *size > OBJECT_MOST;
	if (*bad || skip + *size > left)
		return NULL;
	s->at += skip + *size;
	return object;
}

static int damaged(struct blf_source *s, const struct nod_event **event)
{
	s->ended = true;
	s->base.counts.torn = true;
	return nod_source_deliver_defect(&s->base, event, s->objects + 1, 0,
					 "the file is damaged here: nothing behind can be read");
}

static int blf_next(struct nod_source *base, const struct nod_event **event, struct nod_error *err)
{
	struct blf_source *s = (struct blf_source *)base;
	bool bad = false;
	size_t size;

	while (!s->ended) {
		const uint8_t *object = next_object(s, &size, &bad);
		if (bad)
			return damaged(s, event);
		if (object) {
			if (size >= OBJECT_TIMED && take_object(s, object, size, event))
				return 1;
			continue;
		}
		int status = fill(s);
		if (status == -EBADMSG)
			return damaged(s, event);
		if (status < 0)
			return nod_source_read_failed(base, status, err);
		s->ended = !status;
		base->counts.torn |= s->ended && s->end - s->at >= OBJECT_TIMED;
	}
	base->counts.torn |= nod_inflate_torn(base->input.inflate);
	return 0;
}

static void blf_counts(const struct nod_source *base, struct nod_source_counts *counts)
{
	*counts = base->counts;
	counts->lines = ((const struct blf_source *)base)->objects;
}

static void blf_close(struct nod_source *base)
{
	free(((struct blf_source *)base)->bytes);
	nod_source_free(base);
}

static const struct nod_source_ops blf_ops = {
	.next = blf_next, .counts = blf_counts, .close = blf_close};

/* Year, month, day of the week, day, hour, minute, second, millisecond; all zero: not said. */
static int64_t start_of(const uint8_t *p)
{
	struct tm tm = {.tm_year = u16(p) - 1900, .tm_mon = u16(p + 2) - 1, .tm_mday = u16(p + 6),
			.tm_hour = u16(p + 8), .tm_min = u16(p + 10), .tm_sec = u16(p + 12)};

	if (u16(p) < 1970 || u16(p) > 2200 || tm.tm_mon < 0 || tm.tm_mon > 11 || tm.tm_mday < 1 ||
	    tm.tm_mday > 31 || tm.tm_hour > 23 || tm.tm_min > 59 || tm.tm_sec > 60)
		return 0;
	return timegm(&tm) * NOD_NS_PER_S + u16(p + 14) % 1000 * NOD_NS_PER_MS;
}

static int read_header(struct blf_source *s, struct nod_error *err)
{
	uint8_t header[HEADER_LEAST];
	ptrdiff_t n = read_bytes(s, header, sizeof(header));

	if (n < 0)
		return nod_source_read_failed(&s->base, (int)n, err);
	size_t size = (size_t)n < 8 ? 0 : u32(header + 4);
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
	struct blf_source *s = calloc(1, sizeof(*s));

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
