/* SPDX-License-Identifier: MIT */
/* The objects of a BLF file that are frames: see the head of blf-source.c. */
#include <string.h>

#include "blf-internal.h"

enum {
	CAN_MESSAGE = 1,
	CAN_ERROR = 2,
	CAN_ERROR_EXT = 73,
	CAN_MESSAGE2 = 86,
	CAN_FD_MESSAGE = 100,
	CAN_FD_MESSAGE_64 = 101
};

static bool take_time(struct nod_blf_source *s, const uint8_t *object, struct nod_frame *frame)
{
	uint64_t time = nod_blf_u64(object + 24), unit = nod_blf_u32(object + 16) == 1 ? 10000 : 1;
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
	take_id(frame, nod_blf_u32(body + 4));
	if (!(frame->id & NOD_ID_REMOTE))
		memcpy(frame->data, body + 8, frame->length);
	return NULL;
}

/* What both objects of CAN FD have, wherever it stands in them. */
static const char *fd(struct nod_frame *frame, unsigned valid, unsigned dlc, bool is_fd,
		      bool remote, const uint8_t *data, size_t size)
{
	frame->id |= remote ? NOD_ID_REMOTE : 0;
	if (!is_fd || remote) { /* CAN FD has no remote frames */
		frame->flags &= (uint8_t) ~(NOD_FRAME_BRS | NOD_FRAME_ESI);
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
				  (flags & 2 ? NOD_FRAME_BRS : 0) |
				  (flags & 4 ? NOD_FRAME_ESI : 0));
	take_id(frame, nod_blf_u32(body + 4));
	return fd(frame, body[14], body[3], flags & 1, body[2] & 0x80, body + 20, size - 20);
}

static const char *fd_message_64(struct nod_frame *frame, const uint8_t *body, size_t size)
{
	if (size < 40)
		return "a CAN FD message that is too short";
	uint32_t flags = nod_blf_u32(body + 12);
	frame->flags |= (uint8_t)((body[34] ? NOD_FRAME_SENT : NOD_FRAME_RECEIVED) |
				  (flags & 0x2000 ? NOD_FRAME_BRS : 0) |
				  (flags & 0x4000 ? NOD_FRAME_ESI : 0));
	take_id(frame, nod_blf_u32(body + 4));
	return fd(frame, body[2], body[1], flags & 0x1000, flags & 0x10, body + 40, size - 40);
}

static const char *error(struct nod_frame *frame, size_t size)
{
	frame->id = NOD_ID_ERROR;
	frame->length = 8;
	return size < 2 ? "an error frame that is too short" : NULL;
}

int nod_blf_take_object(struct nod_blf_source *s, const uint8_t *object, size_t size,
			const struct nod_event **event)
{
	struct nod_frame *frame = &s->base.event.frame;
	unsigned type = nod_blf_u32(object + 12), header = nod_blf_u16(object + 4);
	bool known = type == CAN_MESSAGE || type == CAN_MESSAGE2 || type == CAN_ERROR ||
		     type == CAN_ERROR_EXT || type == CAN_FD_MESSAGE || type == CAN_FD_MESSAGE_64;
	const char *reason;

	s->objects++;
	if (!known)
		return 0;
	header = header < NOD_BLF_OBJECT_TIMED ? NOD_BLF_OBJECT_TIMED : header;
	if (size < header + 2u)
		return nod_source_deliver_defect(&s->base, event, s->objects, 0,
						 "an object that is too short");
	const uint8_t *body = object + header;
	*frame = (struct nod_frame){0};
	size -= header;
	reason = type == CAN_MESSAGE || type == CAN_MESSAGE2 ? classical(frame, body, size)
		 : type == CAN_FD_MESSAGE                    ? fd_message(frame, body, size)
		 : type == CAN_FD_MESSAGE_64                 ? fd_message_64(frame, body, size)
							     : error(frame, size);
	if (!reason && !take_time(s, object, frame))
		reason = "a time that is out of range";
	unsigned channel = type == CAN_FD_MESSAGE_64 ? body[0] : nod_blf_u16(body);
	if (!reason && !nod_channel_name(&s->names, frame, channel))
		reason = "more than 255 different interface names";
	return reason ? nod_source_deliver_defect(&s->base, event, s->objects, 0, reason)
		      : nod_source_deliver_frame(&s->base, event);
}
