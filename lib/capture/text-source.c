/* SPDX-License-Identifier: MIT */
/* Captures that are text: candump logs and candump's screen form. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "candump.h"
#include "console.h"
#include "lines.h"
#include "line-scan.h"
#include "other-log.h"
#include "source-private.h"
#include "text-form.h"

struct text_source {
	struct nod_source base;
	struct nod_lines lines;
	enum nod_text_form form;
	struct nod_candump candump;
	struct nod_other_log other;     /* with NOD_TEXT_OTHER */
	bool after_error;               /* the line before was an error report */
	char comment[NOD_LINE_MAX + 1]; /* key and value of the header delivered last */
};

/* Bytes looked at to tell the form. Chosen: more than a thousand lines. */
#define HEAD_SIZE ((size_t)64 * 1024)

/* "DROPCOUNT: dropped 12 CAN frames on 'can0' socket (total drops 12)" */
static int parse_drop_count(struct text_source *text, struct nod_scan *scan,
			    const struct nod_event **event)
{
	uint64_t count;

	nod_scan_blanks(scan);
	if (!nod_scan_text(scan, "dropped ") || !nod_scan_number(scan, UINT32_MAX, &count, "") ||
	    !nod_scan_text(scan, " CAN frame"))
		return 0;
	nod_scan_text(scan, "s");
	if (!nod_scan_text(scan, " on '"))
		return 0;
	const char *quote = memchr(scan->p, '\'', (size_t)(scan->end - scan->p));
	if (!quote)
		return 0;
	int index = nod_interfaces_index(text->base.table, scan->p, (size_t)(quote - scan->p));
	if (index < 0)
		return 0;
	return nod_source_deliver_loss(&text->base, event, (uint8_t)index, count);
}

static bool is_key_character(char c)
{
	return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
	       c == '-' || c == '_' || c == '.';
}

/* "# key: value", the key one word. Other comments say nothing to a program. */
static int parse_comment(struct text_source *text, struct nod_scan *scan,
			 const struct nod_event **event)
{
	scan->p++;
	nod_scan_blanks(scan);
	size_t length = (size_t)(scan->end - scan->p), key = 0;
	char *copy = text->comment;

	for (size_t i = 0; i < length; i++)
		copy[i] = (unsigned char)scan->p[i] < ' ' || scan->p[i] == 127 ? ' ' : scan->p[i];
	while (length && copy[length - 1] == ' ')
		length--;
	copy[length] = '\0';
	while (is_key_character(copy[key]))
		key++;
	if (!key || copy[key] != ':' || (copy[key + 1] && copy[key + 1] != ' '))
		return 0;
	copy[key++] = '\0';
	while (copy[key] == ' ')
		key++;
	text->base.event.kind = NOD_EVENT_HEADER;
	text->base.event.time = text->base.last;
	text->base.event.header.key = copy;
	text->base.event.header.value = copy + key;
	*event = &text->base.event;
	return 1;
}

static int parse_frame(struct text_source *text, struct nod_scan *scan, bool torn,
		       const struct nod_event **event)
{
	struct nod_frame *frame = &text->base.event.frame;
	bool good = text->form == NOD_TEXT_LOG ? nod_candump_parse(&text->candump, scan, frame)
					       : nod_console_parse(scan, text->base.table, frame);

	text->base.counts.unended |= good && torn && !nod_inflate_torn(text->base.input.inflate);
	text->after_error = good && frame->id & NOD_ID_ERROR;
	if (good)
		return nod_source_deliver_frame(&text->base, event);
	return nod_source_deliver_defect(&text->base, event, text->lines.number,
					 nod_scan_column(scan),
					 torn ? "the last line is cut off" : scan->reason);
}

static int take_other(struct text_source *text, struct nod_scan *scan, bool torn,
		      const struct nod_event **event)
{
	int status = nod_other_log_parse(&text->other, scan, &text->base.event.frame);

	if (status > 0)
		return nod_source_deliver_frame(&text->base, event);
	return status ? nod_source_deliver_defect(&text->base, event, text->lines.number,
						  nod_scan_column(scan),
						  torn ? "the last line is cut off" : scan->reason)
		      : 0;
}

/* Returns 1 with an event, or 0 for a line that holds none. */
static int take_line(struct text_source *text, const struct nod_line *line,
		     const struct nod_event **event)
{
	struct nod_scan scan = nod_scan_line(line->text, line->length);

	text->base.counts.torn |= line->torn;
	if (line->too_long)
		return nod_source_deliver_defect(&text->base, event, text->lines.number,
						 (unsigned)NOD_LINE_MAX + 1,
						 "a line of more than 4096 characters");
	/* candump -e explains an error report on lines of their own. */
	if (text->after_error && line->length && line->text[0] == '\t')
		return 0;
	nod_scan_blanks(&scan);
	if (scan.p == scan.end)
		return 0;
	if (text->form == NOD_TEXT_OTHER)
		return take_other(text, &scan, line->torn, event);
	if (*scan.p == '#')
		return parse_comment(text, &scan, event);
	if (nod_scan_text(&scan, "DROPCOUNT:")) {
		if (parse_drop_count(text, &scan, event))
			return 1;
		scan.reason = "expected candump's report of dropped frames";
		return nod_source_deliver_defect(&text->base, event, text->lines.number,
						 (unsigned)(scan.p - scan.begin) + 1, scan.reason);
	}
	scan.p = scan.begin;
	return parse_frame(text, &scan, line->torn, event);
}

/* The usual lines of a log, as far as whole lines are surely in the buffer. */
static size_t text_frames(struct nod_source *base, struct nod_frame *frames, size_t room)
{
	struct text_source *text = (struct text_source *)base;
	struct nod_lines *lines = &text->lines;
	const char *p = lines->buffer + lines->begin, *end = lines->buffer + lines->end;

	if (text->form != NOD_TEXT_LOG)
		return 0;
	size_t n = nod_candump_parse_quickly(&text->candump, &p, end, frames, room);
	nod_source_count_frames(base, frames, n);
	lines->begin = (size_t)(p - lines->buffer);
	lines->number += n;
	return n;
}

static int text_next(struct nod_source *base, const struct nod_event **event, struct nod_error *err)
{
	struct text_source *text = (struct text_source *)base;
	struct nod_line line;

	if (text_frames(base, &base->event.frame, 1)) {
		base->event.kind = NOD_EVENT_FRAME;
		base->event.time = base->event.frame.time;
		*event = &base->event;
		return 1;
	}
	for (;;) {
		int status = nod_lines_next(&text->lines, &line);
		if (status < 0)
			return nod_source_read_failed(&text->base, status, err);
		if (!status) {
			base->counts.torn |= nod_inflate_torn(base->input.inflate);
			return 0;
		}
		if (take_line(text, &line, event))
			return 1;
	}
}

static void text_counts(const struct nod_source *base, struct nod_source_counts *counts)
{
	*counts = base->counts;
	counts->lines = ((const struct text_source *)base)->lines.number;
}

static void text_close(struct nod_source *base)
{
	nod_lines_free(&((struct text_source *)base)->lines);
	nod_source_free(base);
}

static const struct nod_source_ops text_ops = {
	.next = text_next, .frames = text_frames, .counts = text_counts, .close = text_close};

/* Calls take(context, line) for the lines of the first HEAD_SIZE bytes, read
 * as far as needed, until it returns true. */
typedef bool take_function(void *context, const char *line, size_t length);

static int look_ahead(struct nod_lines *lines, take_function *take, void *context)
{
	size_t seen = 0;

	for (;;) {
		const char *text = lines->buffer + lines->begin;
		size_t held = lines->end - lines->begin;
		held = held < HEAD_SIZE ? held : HEAD_SIZE;
		const char *newline = memchr(text + seen, '\n', held - seen);
		if (newline || (lines->ended && seen < held)) {
			size_t length = newline ? (size_t)(newline - text) - seen : held - seen;
			bool carriage = length && text[seen + length - 1] == '\r';
			if (take(context, text + seen, length - carriage))
				return 0;
			seen += length + (newline != NULL);
			continue;
		}
		ptrdiff_t n = held < HEAD_SIZE ? nod_lines_fill(lines) : 0;
		if (n < 0)
			return (int)n;
		if (n == 0 && (held == HEAD_SIZE || seen == held))
			return 0;
	}
}

struct guesses {
	struct nod_text_guess text;
	struct nod_other_log *other;
};

static bool take_guess(void *context, const char *line, size_t length)
{
	struct guesses *guesses = context;

	return nod_other_log_guess(guesses->other, line, length) ||
	       nod_text_guess_take(&guesses->text, line, length);
}

static bool take_run(void *context, const char *line, size_t length)
{
	struct nod_scan scan = nod_scan_line(line, length);
	enum nod_console_clock clock;
	nod_time time;

	nod_scan_blanks(&scan);
	if (nod_console_parse_time(&scan, &time, &clock))
		nod_console_run_take(context, time);
	return false;
}

/* Refuses times that are, or may be, differences. */
static int check_run(struct text_source *text, struct nod_error *err)
{
	struct nod_console_run run = {0};
	const char *name = text->base.input.name;
	int status = look_ahead(&text->lines, take_run, &run);

	if (status < 0)
		return nod_source_read_failed(&text->base, status, err);
	switch (nod_console_run_verdict(&run)) {
	case NOD_CONSOLE_DIFFERENCES:
		return nod_error_set(err, EINVAL,
				     "%s: the times are differences from line to line (candump "
				     "-td), no times to go by; record with candump -L or -ta",
				     name);
	case NOD_CONSOLE_UNKNOWN:
		return nod_error_set(err, EINVAL,
				     "%s: too few lines to tell whether the times count from zero "
				     "or from the line before; record with candump -L or -ta",
				     name);
	default:
		return 0;
	}
}

static const char *form_name(const struct nod_text_guess *guess)
{
	if (guess->form == NOD_TEXT_LOG)
		return "candump log";
	if (guess->clock == NOD_CONSOLE_DATE)
		return "candump screen form with dates";
	return guess->clock == NOD_CONSOLE_SHORT ? "candump screen form, times from zero"
						 : "candump screen form";
}

/* A byte order mark in front of everything is passed over. */
static int skip_mark(struct nod_lines *lines)
{
	ptrdiff_t n = 1;

	while (n > 0 && lines->end - lines->begin < 3)
		n = nod_lines_fill(lines);
	if (lines->end - lines->begin >= 3 &&
	    !memcmp(lines->buffer + lines->begin, "\xEF\xBB\xBF", 3))
		lines->begin += 3;
	return n < 0 ? (int)n : 0;
}

static int begin_other(struct text_source *text, struct nod_error *err)
{
	if (text->other.form == NOD_OTHER_TIMELESS)
		return nod_error_set(
			err, EINVAL,
			"%s: lines of a serial CAN adapter without any time: when a frame "
			"came is not in it, and nothing here can be said without; switch "
			"the adapter's time stamps on (Z1), or let the serial monitor show "
			"times",
			text->base.input.name);
	text->form = NOD_TEXT_OTHER;
	snprintf(text->base.form, sizeof(text->base.form), "%s%s", nod_other_log_name(&text->other),
		 nod_inflate_form(text->base.input.inflate));
	return 0;
}

static int detect(struct text_source *text, struct nod_error *err)
{
	struct guesses guesses = {.other = &text->other};
	struct nod_lines *lines = &text->lines;
	int status = skip_mark(lines);

	text->other.table = text->base.table;
	if (!status)
		status = look_ahead(lines, take_guess, &guesses);
	if (status < 0)
		return nod_source_read_failed(&text->base, status, err);
	if (nod_text_ends_in_returns(lines->buffer + lines->begin, lines->end - lines->begin))
		return nod_error_set(err, EINVAL,
				     "%s: its lines end in carriage returns alone; make them line "
				     "ends: tr '\\r' '\\n' < FILE > capture.log",
				     text->base.input.name);
	if (text->other.form != NOD_OTHER_NONE)
		return begin_other(text, err);
	struct nod_text_guess guess = guesses.text;
	/* Nothing but comments is a log in which no frame came. */
	if (guess.form == NOD_TEXT_UNDECIDED && (guess.log_like || !guess.strange))
		guess.form = NOD_TEXT_LOG;
	text->form = guess.form;
	snprintf(text->base.form, sizeof(text->base.form), "%s%s", form_name(&guess),
		 nod_inflate_form(text->base.input.inflate));
	if (guess.form == NOD_TEXT_CONSOLE && guess.clock == NOD_CONSOLE_SHORT)
		return check_run(text, err);
	if (guess.form == NOD_TEXT_LOG || guess.form == NOD_TEXT_CONSOLE)
		return 0;
	return nod_text_refuse(&guess, text->base.input.name, lines->buffer + lines->begin,
			       lines->end - lines->begin, err);
}

struct nod_source *nod_source_text(struct nod_input input, struct nod_interfaces *table,
				   struct nod_error *err)
{
	struct text_source *text = malloc(sizeof(*text));
	int status = -ENOMEM;

	if (!text)
		return nod_source_no_memory(&input, err);
	memset(text, 0, sizeof(*text));
	nod_source_init(&text->base, &text_ops, input, table);
	nod_candump_init(&text->candump, table);
	if (nod_lines_init(&text->lines, nod_inflate_read, input.inflate))
		nod_error_set(err, ENOMEM, "out of memory");
	else
		status = detect(text, err);
	if (status) {
		text_close(&text->base);
		errno = -status;
		return NULL;
	}
	return &text->base;
}
