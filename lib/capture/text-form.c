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

bool nod_text_guess_take(struct nod_text_guess *guess, const char *line, size_t length)
{
	struct nod_scan scan = nod_scan_line(line, length);

	guess->lines++;
	nod_scan_blanks(&scan);
	if (scan.p == scan.end || *scan.p == '#' || nod_scan_text(&scan, "DROPCOUNT:"))
		return false;
	if (scan.end - scan.p >= 2 && scan.p[0] == '(' && scan.p[1] >= '0' && scan.p[1] <= '9')
		guess->form = timed_form(guess, scan);
	else if (nod_console_recognise(scan))
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
	{"packed with lz4; unpack it first", 4, {4, 0x22, 0x4D, 0x18}},
};

static int refuse_binary(const char *name, const char *head, size_t length, struct nod_error *err)
{
	char hex[8 * 3 + 1] = "";

	for (size_t i = 0; i < length && i < 8; i++)
		snprintf(hex + 3 * i, 4, " %02X", (unsigned char)head[i]);
	return nod_error_set(err, EINVAL,
			     "%s: not a capture: neither candump text nor pcap; it begins with the "
			     "bytes%s", name, hex);
}

/* The first characters of the line, fit to be shown. */
static void excerpt(char text[41], const char *head, size_t length, uint64_t line)
{
	const char *end = head + length;
	size_t n = 0;

	while (--line && (head = memchr(head, '\n', (size_t)(end - head))))
		head++;
	for (; head && head < end && *head != '\n' && n < 40; head++)
		text[n++] = *head >= ' ' && *head <= '~' ? *head : '.';
	text[n] = '\0';
}

int nod_text_refuse(const struct nod_text_guess *guess, const char *name, const char *head,
		    size_t length, struct nod_error *err)
{
	char text[41];

	if (guess->form == NOD_TEXT_TIMELESS)
		return nod_error_set(err, EINVAL,
				     "%s: candump's screen form without times: when a frame came is "
				     "not in it; record with candump -L or -ta", name);
	for (size_t i = 0; i < sizeof(foreign) / sizeof(foreign[0]); i++)
		if (length >= foreign[i].length &&
		    !memcmp(head, foreign[i].bytes, foreign[i].length))
			return nod_error_set(err, EINVAL, "%s: %s", name, foreign[i].name);
	if (memchr(head, '\0', length < 512 ? length : 512))
		return refuse_binary(name, head, length, err);
	excerpt(text, head, length, guess->strange ? guess->strange : 1);
	return nod_error_set(err, EINVAL,
			     "%s: not a capture: expected candump lines like "
			     "\"(1700000000.123456) can0 123#1122\" or pcap, found \"%s\"", name,
			     text);
}
