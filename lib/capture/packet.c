/* SPDX-License-Identifier: MIT */
#include "packet.h"

#include <string.h>

#include "line-scan.h"

/* Header: ID and flags (4 bytes, big endian), payload length, CAN FD flags,
 * reserved, raw DLC; the payload follows. */
enum { LENGTH = 4, FD_FLAGS = 5, RAW_DLC = 7, HEADER_SIZE = 8 };

#define XL_FLAG 0x80 /* in the length byte: a CAN XL frame */
#define FD_SIZE 72   /* size of struct canfd_frame: CAN FD even without its flag */

static bool fail(const char **reason, const char *text)
{
	*reason = text;
	return false;
}

static bool parse_id(struct nod_frame *frame, const uint8_t *bytes, const char **reason)
{
	uint32_t word = (uint32_t)bytes[0] << 24 | (uint32_t)bytes[1] << 16 |
			(uint32_t)bytes[2] << 8 | bytes[3];

	frame->id = word;
	if (word & NOD_ID_ERROR)
		frame->id = word & (NOD_ID_ERROR | NOD_ID_EXTENDED_MASK);
	else if (!(word & NOD_ID_EXTENDED) && (word & NOD_ID_EXTENDED_MASK) > NOD_ID_STANDARD_MASK)
		return fail(reason, "a standard ID is at most 7FF");
	return true;
}

static bool parse_length(struct nod_frame *frame, const uint8_t *bytes, bool fd,
			 const char **reason)
{
	frame->length = bytes[LENGTH];
	if (!fd && frame->length > 8)
		return fail(reason, "a classical frame has at most 8 bytes");
	if (!nod_scan_fd_length(frame->length))
		return fail(reason, "a CAN FD frame cannot have this number of bytes");
	if (!fd && frame->length == 8 && bytes[RAW_DLC] >= 9 && bytes[RAW_DLC] <= 15)
		frame->raw_dlc = bytes[RAW_DLC];
	if (fd && frame->id & NOD_ID_REMOTE)
		return fail(reason, "a CAN FD frame cannot be a remote request");
	return true;
}

bool nod_packet_parse(struct nod_frame *frame, const uint8_t *bytes, size_t captured,
		      size_t original, const char **reason)
{
	if (captured > original)
		captured = original;
	if (original < HEADER_SIZE)
		return fail(reason, "a packet too short for a CAN frame");
	if (captured < HEADER_SIZE)
		return fail(reason, "only a part of the packet was captured");
	if (bytes[LENGTH] & XL_FLAG)
		return fail(reason, "CAN XL is not supported");
	bool fd = original == FD_SIZE || bytes[FD_FLAGS] & NOD_FRAME_FD;
	frame->flags = fd ? (uint8_t)(NOD_FRAME_FD |
				      (bytes[FD_FLAGS] & (NOD_FRAME_BRS | NOD_FRAME_ESI)))
			  : 0;
	frame->raw_dlc = 0;
	memset(frame->data, 0, 8);
	if (!parse_id(frame, bytes, reason) || !parse_length(frame, bytes, fd, reason))
		return false;
	if (frame->id & NOD_ID_REMOTE)
		return true;
	if (original < HEADER_SIZE + (size_t)frame->length)
		return fail(reason, "fewer bytes than the frame says it has");
	if (captured < HEADER_SIZE + (size_t)frame->length)
		return fail(reason, "only a part of the packet was captured");
	memcpy(frame->data, bytes + HEADER_SIZE, frame->length);
	return true;
}
