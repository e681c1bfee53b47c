/* SPDX-License-Identifier: MIT */
#include "text-form.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

/* A line that begins with a time. */
static enum nod_text_form timed_form(struct nod_text_guess *guess, struct nod_scan scan)
{
	nod_time time;
	const char *start = scan.p;
	bool readable = nod_console_parse_time(&scan, &time, &guess->clock);

	if (readable && nod_scan_blanks(&scan) && nod_console_recognise(scan))
		return NOD_TEXT_CONSOLE;
	if (memchr(start, '#', (size_t)(scan.end - start)))
		return NOD_TEXT_LOG;
	guess->log_like = true;
	return NOD_TEXT_UNDECIDED;
}

/* "(12.3", with blanks before the seconds where a logger pads them. */
static bool is_time(struct nod_scan scan)
{
	if (!nod_scan_text(&scan, "("))
		return false;
	nod_scan_blanks(&scan);
	return nod_scan_peek(&scan) >= '0' && nod_scan_peek(&scan) <= '9';
}

/* "can0 123#1122", "123#1122": a log line without its time. */
static bool is_timeless(struct nod_scan scan)
{
	const char *hash = memchr(scan.p, '#', (size_t)(scan.end - scan.p));
	const char *id = hash;

	while (id && id > scan.p && nod_scan_hex(id[-1]) >= 0)
		id--;
	return id && (hash - id == 3 || hash - id == 8) &&
	       (id == scan.p || id[-1] == ' ' || id[-1] == '\t');
}

bool nod_text_guess_take(struct nod_text_guess *guess, const char *line, size_t length)
{
	struct nod_scan scan = nod_scan_line(line, length);

	guess->lines++;
	nod_scan_blanks(&scan);
	if (scan.p == scan.end || *scan.p == '#' || nod_scan_text(&scan, "DROPCOUNT:"))
		return false;
	if (is_time(scan))
		guess->form = timed_form(guess, scan);
	else if (nod_console_recognise(scan) || is_timeless(scan))
		guess->form = NOD_TEXT_TIMELESS;
	else if (!guess->strange)
		guess->strange = guess->lines;
	return guess->form != NOD_TEXT_UNDECIDED;
}

static const struct {
	const char *name;
	unsigned length;
	unsigned char bytes[6];
} foreign[] = {
	{"packed with xz; unpack it first", 6, {0xFD, '7', 'z', 'X', 'Z', 0}},
	{"packed with bzip2; unpack it first", 3, {'B', 'Z', 'h'}},
	{"packed with zip; unpack it first", 4, {'P', 'K', 3, 4}},
	{"packed with 7-Zip; unpack it first", 4, {'7', 'z', 0xBC, 0xAF}},
	{"packed with rar; unpack it first", 4, {'R', 'a', 'r', '!'}},
	{"packed with lz4; unpack it first", 4, {4, 0x22, 0x4D, 0x18}},
	{"text in UTF-16; save it as UTF-8", 2, {0xFF, 0xFE}},
	{"text in UTF-16; save it as UTF-8", 2, {0xFE, 0xFF}},
	{"a measurement file (MDF); let the program that wrote it, or asammdf, export its CAN frames "
	 "as ASC, BLF or CSV, which are read here",
	 6,
	 {'M', 'D', 'F', ' ', ' ', ' '}},
	{"a measurement file (MDF) that was not finished; let the logger's program, or asammdf, "
	 "finish it and export its CAN frames as ASC, BLF or CSV, which are read here",
	 5,
	 {'U', 'n', 'F', 'i', 'n'}},
	{"a database (SQLite); if it is a log of python3-can, convert it: python3 -m can.logconvert "
	 "FILE capture.log",
	 6,
	 {'S', 'Q', 'L', 'i', 't', 'e'}},
};

static int refuse_binary(const char *name, const char *head, size_t length, struct nod_error *err)
{
	char hex[8 * 3 + 1] = "";

	for (size_t i = 0; i < length && i < 8; i++)
		snprintf(hex + 3 * i, 4, " %02X", (unsigned char)head[i]);
	return nod_error_set(
		err, EINVAL,
		"%s: not a capture: neither candump text nor pcap nor BLF; it begins "
		"with the bytes%s; python3 -m can.logconvert FILE capture.log converts "
		"what python3-can reads",
		name, hex);
}

/* The first characters of the line, fit to be shown. */
static void excerpt(char text[41], const char *head, size_t length, uint64_t line)
{
	const char *end = head + length;
	size_t n = 0;

	while (--line && (head = memchr(head, '\n', (size_t)(end - head))))
		head++;
	for (; head && head < end && *head != '\n' && n < 40; head++)
		text[n++] = (*head >= ' ' && *head <= '~') || *head == '\t' ? *head : '.';
	text[n] = '\0';
}

/* Where a line has so many of one separator it is a row of a table. Chosen. */
#define SEPARATORS_MIN 2

static bool is_table(const char *text)
{
	static const char separators[] = ",;\t";

	for (const char *s = separators; *s; s++) {
		unsigned count = 0;
		for (const char *at = strchr(text, *s); at; at = strchr(at + 1, *s))
			count++;
		if (count >= SEPARATORS_MIN)
			return true;
	}
	return false;
}

bool nod_text_ends_in_returns(const char *head, size_t length)
{
	return !memchr(head, '\n', length) && memchr(head, '\r', length);
}

int nod_text_refuse(const struct nod_text_guess *guess, const char *name, const char *head,
		    size_t length, struct nod_error *err)
{
	char text[41];

	if (guess->form == NOD_TEXT_TIMELESS)
		return nod_error_set(
			err, EINVAL,
			"%s: candump's form without any time: when a frame came is not in "
			"it, and nothing here can be said without; record with candump "
			"-L or -ta",
			name);
	for (size_t i = 0; i < sizeof(foreign) / sizeof(foreign[0]); i++)
		if (length >= foreign[i].length &&
		    !memcmp(head, foreign[i].bytes, foreign[i].length))
			return nod_error_set(err, EINVAL, "%s: %s", name, foreign[i].name);
	if (memchr(head, '\0', length < 512 ? length : 512))
		return refuse_binary(name, head, length, err);
	excerpt(text, head, length, guess->strange ? guess->strange : 1);
	if (!strchr("[{<", text[0]) && is_table(text))
		return nod_error_set(err, EINVAL,
				     "%s: a table, but its first line, \"%s\", does not say which "
				     "columns are time, ID and data; put a line of names like "
				     "\"time s,id,data\" before it (time us: microseconds; ID and "
				     "data are hexadecimal)",
				     name, text);
	return nod_error_set(err, EINVAL,
			     "%s: not a capture: expected candump lines like "
			     "\"(1700000000.123456) can0 123#1122\", pcap, ASC, TRC, BLF or CSV, "
			     "found \"%s\"; asc2log or python3 -m can.logconvert FILE capture.log "
			     "convert other logs",
			     name, text);
}
