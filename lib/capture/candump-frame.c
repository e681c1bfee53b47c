/* SPDX-License-Identifier: MIT */
/* A frame of a log line, character by character. */
#include "candump-internal.h"

/* "_9" to "_F": the DLC that was on the wire, for 8 bytes. */
static bool parse_raw_dlc(struct nod_scan *scan, struct nod_frame *frame)
{
	if (nod_scan_peek(scan) != '_')
		return true;
	if (frame->length != 8)
		return nod_scan_fail(scan, "a raw DLC belongs to 8 bytes only");
	scan->p++;
	int dlc = nod_scan_hex(nod_scan_peek(scan));
	if (dlc < 9)
		return nod_scan_fail(scan, "expected a raw DLC of 9 to F");
	scan->p++;
	frame->raw_dlc = (uint8_t)dlc;
	return true;
}

static bool parse_remote(struct nod_scan *scan, struct nod_frame *frame)
{
	if (frame->id & NOD_ID_ERROR)
		return nod_scan_fail(scan, "an error report cannot be a remote request");
	scan->p++;
	frame->id |= NOD_ID_REMOTE;
	char digit = nod_scan_peek(scan);
	if (digit >= '0' && digit <= '8') {
		frame->length = (uint8_t)(digit - '0');
		scan->p++;
	}
	return parse_raw_dlc(scan, frame);
}

static bool parse_data(struct nod_scan *scan, struct nod_frame *frame, unsigned limit)
{
	unsigned n = 0;

	while (nod_scan_hex(nod_scan_peek(scan)) >= 0) {
		if (n == limit)
			return nod_scan_fail(scan, limit == 8 ? "more than 8 bytes of data"
							      : "more than 64 bytes of data");
		if (!nod_scan_byte(scan, &frame->data[n]))
			return false;
		n++;
		if (nod_scan_peek(scan) == '.')
			scan->p++;
	}
	frame->length = (uint8_t)n;
	return true;
}

static bool parse_fd(struct nod_scan *scan, struct nod_frame *frame)
{
	scan->p++;
	int flags = nod_scan_hex(nod_scan_peek(scan));
	if (flags < 0)
		return nod_scan_fail(scan, "expected the CAN FD flags, one hexadecimal digit");
	scan->p++;
	/* 4 stands for "CAN FD" itself in newer logs and says nothing here. */
	frame->flags = (uint8_t)(NOD_FRAME_FD | (flags & (NOD_FRAME_BRS | NOD_FRAME_ESI)));
	if (!parse_data(scan, frame, 64))
		return false;
	if (!nod_scan_fd_length(frame->length))
		return nod_scan_fail(scan, "a CAN FD frame cannot have this number of bytes");
	return true;
}

/* "45123#81:..." or "123#81:...", see lib.h of can-utils. */
static bool is_can_xl(const struct nod_scan *scan)
{
	const char *p = scan->p;
	while (p < scan->end && nod_scan_hex(*p) >= 0)
		p++;
	return scan->end - p >= 4 && *p == '#' && p[3] == ':';
}

bool nod_candump_parse_frame(struct nod_scan *scan, struct nod_frame *frame)
{
	if (is_can_xl(scan))
		return nod_scan_fail(scan, "CAN XL is not supported");
	if (!nod_scan_id(scan, &frame->id) ||
	    !nod_scan_char(scan, '#', "expected '#' behind the ID"))
		return false;
	switch (nod_scan_peek(scan)) {
	case '#':
		return parse_fd(scan, frame);
	case 'R':
	case 'r':
		return parse_remote(scan, frame);
	default:
		return parse_data(scan, frame, 8) && parse_raw_dlc(scan, frame);
	}
}
