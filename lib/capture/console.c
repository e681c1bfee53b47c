/* SPDX-License-Identifier: MIT */
#include "console.h"

#include <string.h>
#include <time.h>

static bool two_digits(struct nod_scan *scan, int *value)
{
	const char *p = scan->p;
	if (scan->end - p < 2 || p[0] < '0' || p[0] > '9' || p[1] < '0' || p[1] > '9')
		return nod_scan_fail(scan, "expected a date as 2023-11-14 22:13:20");
	*value = (p[0] - '0') * 10 + (p[1] - '0');
	scan->p += 2;
	return true;
}

/* "2023-11-14 22:13:20" behind the parenthesis. */
static bool parse_date(struct nod_scan *scan, int64_t *seconds)
{
	static const char between[] = {'\0', '-', '-', ' ', ':', ':'};
	int part[7]; /* century, year, month, day, hour, minute, second */

	if (!two_digits(scan, &part[0]))
		return false;
	for (int i = 1; i < 7; i++)
		if ((between[i - 1] && !nod_scan_char(scan, between[i - 1],
						      "expected a date as 2023-11-14 22:13:20")) ||
		    !two_digits(scan, &part[i]))
			return false;
	if (part[0] * 100 + part[1] < 1970 || part[0] > 21 || part[2] < 1 || part[2] > 12 ||
	    part[3] < 1 || part[3] > 31 || part[4] > 23 || part[5] > 59 || part[6] > 60)
		return nod_scan_fail(scan, "there is no such date or time of day");
	struct tm tm = {.tm_year = part[0] * 100 + part[1] - 1900,
			.tm_mon = part[2] - 1,
			.tm_mday = part[3],
			.tm_hour = part[4],
			.tm_min = part[5],
			.tm_sec = part[6]};
	*seconds = timegm(&tm);
	return true;
}

bool nod_console_parse_time(struct nod_scan *scan, nod_time *time, enum nod_console_clock *clock)
{
	const char *start = scan->p;
	int64_t seconds = 0, ns;

	if (scan->end - start < 6 || start[5] != '-') {
		if (!nod_scan_time(scan, time))
			return false;
		const char *point = memchr(start, '.', (size_t)(scan->p - start));
		const char *digits = start + 1 + strspn(start + 1, " \t");
		*clock = point - digits > 9 ? NOD_CONSOLE_SECONDS : NOD_CONSOLE_SHORT;
		return true;
	}
	if (!nod_scan_char(scan, '(', "expected a time in parentheses") ||
	    !parse_date(scan, &seconds) || !nod_scan_fraction(scan, &ns) ||
	    !nod_scan_char(scan, ')', "expected ')' behind the time"))
		return false;
	time->ns = seconds * NOD_NS_PER_S + ns;
	*clock = NOD_CONSOLE_DATE;
	return true;
}

/* The columns of -x: "RX B E", each flag a letter or '-'. */
static bool parse_direction(struct nod_scan *scan, struct nod_frame *frame)
{
	bool received = nod_scan_text(scan, "RX ");

	if (!received && !nod_scan_text(scan, "TX "))
		return true;
	frame->flags |= received ? NOD_FRAME_RECEIVED : NOD_FRAME_SENT;
	nod_scan_blanks(scan);
	if (nod_scan_text(scan, "B "))
		frame->flags |= NOD_FRAME_BRS;
	else if (!nod_scan_text(scan, "- "))
		return nod_scan_fail(scan, "expected the flag 'B' or '-'");
	if (nod_scan_text(scan, "E"))
		frame->flags |= NOD_FRAME_ESI;
	else if (!nod_scan_text(scan, "-"))
		return nod_scan_fail(scan, "expected the flag 'E' or '-'");
	if (!nod_scan_blanks(scan))
		return nod_scan_fail(scan, "expected a blank and an ID behind the flags");
	return true;
}

/* "{E}" */
static bool parse_dlc(struct nod_scan *scan, struct nod_frame *frame)
{
	scan->p++;
	int dlc = nod_scan_hex(nod_scan_peek(scan));
	if (dlc < 0)
		return nod_scan_fail(scan, "expected a DLC of one hexadecimal digit");
	scan->p++;
	frame->length = (uint8_t)(dlc < 8 ? dlc : 8);
	frame->raw_dlc = (uint8_t)(dlc > 8 ? dlc : 0);
	return nod_scan_char(scan, '}', "expected '}'");
}

/* "[2]", or "[02]" for CAN FD. */
static bool parse_length(struct nod_scan *scan, struct nod_frame *frame)
{
	uint64_t length;

	if (nod_scan_peek(scan) == '{')
		return parse_dlc(scan, frame);
	if (!nod_scan_char(scan, '[', "expected the number of bytes in brackets"))
		return false;
	const char *digits = scan->p;
	if (!nod_scan_number(scan, 64, &length, "expected a number of bytes up to 64"))
		return false;
	bool fd = scan->p - digits >= 2;
	if (!fd && length > 8)
		return nod_scan_fail(scan, "a classical frame has at most 8 bytes");
	if (!nod_scan_fd_length((unsigned)length))
		return nod_scan_fail(scan, "a CAN FD frame cannot have this number of bytes");
	frame->flags |= fd ? NOD_FRAME_FD : 0;
	frame->length = (uint8_t)length;
	return nod_scan_char(scan, ']', "expected ']'");
}

static void reverse(struct nod_frame *frame)
{
	for (unsigned i = 0; i < frame->length / 2u; i++) {
		uint8_t byte = frame->data[i];
		frame->data[i] = frame->data[frame->length - 1 - i];
		frame->data[frame->length - 1 - i] = byte;
	}
}

static bool parse_bytes(struct nod_scan *scan, struct nod_frame *frame)
{
	bool swapped = false;

	for (unsigned i = 0; i < frame->length; i++) {
		if (i && nod_scan_peek(scan) == '`') {
			swapped = true;
			scan->p++;
		} else if (!nod_scan_blanks(scan)) {
			return nod_scan_fail(scan, "expected as many bytes as the brackets say");
		}
		if (scan->p == scan->end)
			return nod_scan_fail(scan, "expected as many bytes as the brackets say");
		if (!nod_scan_byte(scan, &frame->data[i]))
			return false;
	}
	if (swapped)
		reverse(frame);
	return true;
}

/* What may follow the bytes: the word for an error report, or the bytes as
 * characters, which may be anything. */
static bool parse_rest(struct nod_scan *scan, struct nod_frame *frame)
{
	bool parted = nod_scan_blanks(scan) > 0;

	if (scan->p == scan->end)
		return true;
	if (frame->id & NOD_ID_ERROR && parted && nod_scan_text(scan, "ERRORFRAME"))
		nod_scan_blanks(scan);
	char quote = nod_scan_peek(scan);
	if (parted && (quote == '\'' || quote == '`') && scan->end - scan->p > 1 &&
	    scan->end[-1] == quote)
		scan->p = scan->end;
	if (scan->p < scan->end)
		return nod_scan_fail(scan, "expected the end of the line behind the bytes");
	return true;
}

static bool parse_frame(struct nod_scan *scan, struct nod_frame *frame)
{
	uint8_t flags = frame->flags;

	if (!nod_scan_id(scan, &frame->id))
		return false;
	if (!nod_scan_blanks(scan))
		return nod_scan_fail(scan, "expected a blank behind the ID");
	if (!parse_length(scan, frame))
		return false;
	if (!(frame->flags & NOD_FRAME_FD))
		frame->flags = flags & (NOD_FRAME_SENT | NOD_FRAME_RECEIVED);
	const char *behind = scan->p;
	nod_scan_blanks(scan);
	if (!(frame->flags & NOD_FRAME_FD) && nod_scan_text(scan, "remote request")) {
		frame->id |= NOD_ID_REMOTE;
		return parse_rest(scan, frame);
	}
	scan->p = behind;
	return parse_bytes(scan, frame) && parse_rest(scan, frame);
}

bool nod_console_parse(struct nod_scan *scan, struct nod_interfaces *table, struct nod_frame *frame)
{
	enum nod_console_clock clock;

	frame->length = frame->flags = frame->raw_dlc = 0;
	memset(frame->data, 0, 8);
	nod_scan_blanks(scan);
	if (!nod_console_parse_time(scan, &frame->time, &clock))
		return false;
	if (!nod_scan_blanks(scan))
		return nod_scan_fail(scan, "expected a blank behind the time");
	if (!nod_scan_interface(scan, table, &frame->interface))
		return false;
	if (!nod_scan_blanks(scan))
		return nod_scan_fail(scan, "expected a blank and an ID behind the interface");
	return parse_direction(scan, frame) && parse_frame(scan, frame);
}

bool nod_console_recognise(struct nod_scan scan)
{
	struct nod_frame frame = {0};

	nod_scan_blanks(&scan);
	while (scan.p < scan.end && *scan.p != ' ' && *scan.p != '\t')
		scan.p++;
	return nod_scan_blanks(&scan) && parse_direction(&scan, &frame) &&
	       nod_scan_id(&scan, &frame.id) && nod_scan_blanks(&scan) &&
	       (nod_scan_peek(&scan) == '[' || nod_scan_peek(&scan) == '{');
}

void nod_console_run_take(struct nod_console_run *run, nod_time time)
{
	if (run->lines++ == 1)
		run->second = time;
	if (run->lines > 2) {
		nod_duration step = nod_time_since(time, run->last);
		run->steps++;
		run->falls += step.ns <= 0;
		if (__builtin_add_overflow(run->travelled.ns, step.ns < 0 ? -step.ns : step.ns,
					   &run->travelled.ns))
			run->travelled.ns = INT64_MAX;
	}
	run->last = time;
}

/* Chosen: in 8 steps unordered differences rise every time once in 40,000. */
#define ENOUGH_STEPS 8

/* Chosen: a recorder that merges two networks steps back in one step out of
 * ten and by little; differences do in about half, and lead nowhere. A third
 * of the steps, and a quarter of the way travelled, are far from both. */
#define FALLS_SHARE 3
#define FORWARD_SHARE 4

enum nod_console_verdict nod_console_run_verdict(const struct nod_console_run *run)
{
	if (run->steps < ENOUGH_STEPS)
		return run->falls ? NOD_CONSOLE_UNKNOWN : NOD_CONSOLE_FROM_ZERO;
	nod_duration forward = nod_time_since(run->last, run->second);
	if (run->falls > run->steps / FALLS_SHARE || forward.ns < run->travelled.ns / FORWARD_SHARE)
		return NOD_CONSOLE_DIFFERENCES;
	return NOD_CONSOLE_FROM_ZERO;
}
