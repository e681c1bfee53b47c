/* SPDX-License-Identifier: MIT */
/* One line of a serial CAN adapter: "t1A521122", with the time in milliseconds behind it, or
 * with the time of a serial monitor in front. */
#include "other-log.h"

/* The adapter's clock counts 0 to 59999 ms (0000 to EA5F) and begins anew. */
#define MINUTE_MS 60000
#define DAY_NS (24 * 3600 * NOD_NS_PER_S)

static bool digits(struct nod_scan *scan, unsigned count, unsigned base, uint64_t *number)
{
	struct nod_word word = {scan->p, count};

	if ((size_t)(scan->end - scan->p) < count ||
	    !nod_word_number(&word, base, UINT32_MAX, number))
		return false;
	scan->p += count;
	return true;
}

/* "13:02:10.250 -> ", with any number of digits of a second, or none. */
static bool monitor_time(struct nod_scan *scan, nod_time *time)
{
	uint64_t hour, minute, second;
	int64_t fraction = 0;

	if (!digits(scan, 2, 10, &hour) || !nod_scan_text(scan, ":") ||
	    !digits(scan, 2, 10, &minute) || !nod_scan_text(scan, ":") ||
	    !digits(scan, 2, 10, &second) || hour > 23 || minute > 59 || second > 60)
		return false;
	if (nod_scan_text(scan, "."))
		for (int64_t worth = NOD_NS_PER_S / 10;
		     nod_scan_peek(scan) >= '0' && nod_scan_peek(scan) <= '9';
		     scan->p++, worth /= 10)
			fraction += worth * (*scan->p - '0');
	nod_scan_blanks(scan);
	if (!nod_scan_text(scan, "->"))
		return false;
	nod_scan_blanks(scan);
	time->ns = (int64_t)((hour * 60 + minute) * 60 + second) * NOD_NS_PER_S + fraction;
	return true;
}

/* The frame itself: letter, ID, length, data. d, D, b and B are CAN FD. */
static bool take_frame(struct nod_scan *scan, struct nod_frame *frame)
{
	char letter = nod_scan_peek(scan), kind = (char)(letter | 0x20);
	bool extended = letter == 'T' || letter == 'R' || letter == 'D' || letter == 'B';
	bool is_fd = kind == 'd' || kind == 'b';
	uint64_t id, dlc, byte;

	if (kind != 't' && kind != 'r' && !is_fd)
		return nod_scan_fail(scan, "expected t, T, r, R or a frame of CAN FD");
	scan->p++;
	if (!digits(scan, extended ? 8 : 3, 16, &id) ||
	    id > (extended ? NOD_ID_EXTENDED_MASK : NOD_ID_STANDARD_MASK))
		return nod_scan_fail(scan, "expected an ID of 3 or 8 hexadecimal digits");
	if (!digits(scan, 1, 16, &dlc) || (!is_fd && dlc > 8))
		return nod_scan_fail(scan, "expected a data length");
	frame->id = (uint32_t)id | (extended ? NOD_ID_EXTENDED : 0) |
		    (kind == 'r' ? NOD_ID_REMOTE : 0);
	frame->length = nod_fd_length((unsigned)dlc);
	frame->flags = (uint8_t)((is_fd ? NOD_FRAME_FD : 0) | (kind == 'b' ? NOD_FRAME_BRS : 0));
	for (unsigned i = 0; i < frame->length && kind != 'r'; i++) {
		if (!digits(scan, 2, 16, &byte))
			return nod_scan_fail(scan, "expected two hexadecimal digits a byte");
		frame->data[i] = (uint8_t)byte;
	}
	return true;
}

enum nod_other_form nod_serial_recognise(struct nod_scan scan, bool *monitor)
{
	struct nod_frame frame = {0};
	struct nod_scan start = scan;
	nod_time time;
	uint64_t stamp;

	*monitor = monitor_time(&scan, &time);
	if (!*monitor)
		scan = start;
	if (!take_frame(&scan, &frame))
		return NOD_OTHER_NONE;
	if (*monitor)
		return NOD_OTHER_SERIAL;
	if (scan.p == scan.end)
		return NOD_OTHER_TIMELESS;
	return digits(&scan, 4, 16, &stamp) && scan.p == scan.end && stamp < MINUTE_MS
		       ? NOD_OTHER_SERIAL
		       : NOD_OTHER_NONE;
}

/* A clock that goes back has begun anew: after midnight, or after a minute. */
static void unwrap(struct nod_other_log *log, struct nod_frame *frame, int64_t span)
{
	if (frame->time.ns + log->wrapped + span / 2 < log->last.ns)
		log->wrapped += span;
	frame->time.ns = nod_ns_add(frame->time.ns, log->wrapped);
	log->last = frame->time;
}

int nod_serial_parse(struct nod_other_log *log, struct nod_scan *scan, struct nod_frame *frame)
{
	uint64_t stamp;
	nod_time time = {0};

	if (log->monitor && !monitor_time(scan, &time)) {
		nod_scan_fail(scan, "expected a time such as 13:02:10.250 ->");
		return -1;
	}
	if (scan->p == scan->end || *scan->p == 'z' || *scan->p == 'Z' || *scan->p == '\a')
		return 0; /* answers of the adapter */
	if (!take_frame(scan, frame))
		return -1;
	if (!log->monitor &&
	    (!digits(scan, 4, 16, &stamp) || stamp >= MINUTE_MS || scan->p != scan->end)) {
		nod_scan_fail(scan, "expected the adapter's time, four hexadecimal digits");
		return -1;
	}
	frame->time.ns = log->monitor ? time.ns : (int64_t)stamp * NOD_NS_PER_MS;
	unwrap(log, frame, log->monitor ? DAY_NS : MINUTE_MS * NOD_NS_PER_MS);
	if (!nod_channel_name(log, frame, 1)) {
		nod_scan_fail(scan, "more than 255 different interface names");
		return -1;
	}
	return 1;
}
