/* SPDX-License-Identifier: MIT */
#include "lines.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

int nod_lines_init(struct nod_lines *lines, nod_read_function *read, void *context)
{
	*lines = (struct nod_lines){.read = read, .context = context};
	lines->buffer = malloc(NOD_LINES_BUFFER + NOD_LINES_PADDING);
	if (!lines->buffer)
		return -ENOMEM;
	memset(lines->buffer + NOD_LINES_BUFFER, 0, NOD_LINES_PADDING);
	return 0;
}

void nod_lines_free(struct nod_lines *lines)
{
	free(lines->buffer);
	lines->buffer = NULL;
}

ptrdiff_t nod_lines_fill(struct nod_lines *lines)
{
	size_t held = lines->end - lines->begin;

	if (lines->ended || held == NOD_LINES_BUFFER)
		return 0;
	memmove(lines->buffer, lines->buffer + lines->begin, held);
	lines->begin = 0;
	lines->end = held;
	ptrdiff_t n = lines->read(lines->context, lines->buffer + held, NOD_LINES_BUFFER - held);
	if (n == 0)
		lines->ended = true;
	if (n <= 0)
		return n;
	lines->end += (size_t)n;
	memset(lines->buffer + lines->end, 0, NOD_LINES_PADDING);
	return n;
}

/* Takes `length` bytes as a line and `newline` (0 or 1) bytes behind it. */
static int take(struct nod_lines *lines, struct nod_line *line, size_t length, size_t newline)
{
	line->text = lines->buffer + lines->begin;
	line->torn = !newline;
	line->too_long = lines->skipping || length > NOD_LINE_MAX;
	line->length = line->too_long ? 0 : length;
	if (line->length && newline && line->text[line->length - 1] == '\r')
		line->length--;
	lines->begin += length + newline;
	lines->searched = 0;
	lines->skipping = false;
	lines->skipped = 0;
	lines->number++;
	return 1;
}

int nod_lines_next(struct nod_lines *lines, struct nod_line *line)
{
	for (;;) {
		const char *text = lines->buffer + lines->begin;
		size_t held = lines->end - lines->begin;
		const char *newline = memchr(text + lines->searched, '\n', held - lines->searched);
		if (newline)
			return take(lines, line, (size_t)(newline - text), 1);
		lines->searched = held;
		if (held > NOD_LINE_MAX + 1) {
			lines->skipping = true;
			lines->skipped += held;
			lines->begin = lines->end;
			lines->searched = 0;
			if (!lines->number && lines->skipped >= NOD_LINE_ENDLESS)
				return -EFBIG;
		}
		ptrdiff_t n = nod_lines_fill(lines);
		if (n < 0)
			return (int)n;
		if (n == 0 && (held || lines->skipping))
			return take(lines, line, lines->end - lines->begin, 0);
		if (n == 0)
			return 0;
	}
}
