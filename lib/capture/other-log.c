/* SPDX-License-Identifier: MIT */
#include "other-log.h"

#include <stdio.h>
#include <string.h>
#include <strings.h>

/* Lines looked at; a header is shorter, and what has no frame by then is something else. */
#define GUESS_LINES 200

bool nod_scan_word(struct nod_scan *scan, struct nod_word *word)
{
	nod_scan_blanks(scan);
	word->text = scan->p;
	while (scan->p < scan->end && *scan->p != ' ' && *scan->p != '\t')
		scan->p++;
	word->length = (size_t)(scan->p - word->text);
	return word->length > 0;
}

bool nod_word_is(const struct nod_word *word, const char *text)
{
	return word->length == strlen(text) && !strncasecmp(word->text, text, word->length);
}

bool nod_word_number(const struct nod_word *word, unsigned base, uint64_t limit, uint64_t *number)
{
	uint64_t sum = 0;

	for (size_t i = 0; i < word->length; i++) {
		int digit = nod_scan_hex(word->text[i]);
		if (digit < 0 || (unsigned)digit >= base ||
		    __builtin_mul_overflow(sum, base, &sum) ||
		    __builtin_add_overflow(sum, (uint64_t)digit, &sum) || sum > limit)
			return false;
	}
	*number = sum;
	return word->length > 0;
}

bool nod_word_time(const struct nod_word *word, int64_t unit_ns, nod_time *time)
{
	const char *point = memchr(word->text, '.', word->length);
	struct nod_word whole = *word;
	uint64_t units;
	int64_t part = 0, worth = unit_ns;

	if (point)
		whole.length = (size_t)(point - word->text);
	if (!nod_word_number(&whole, 10, (uint64_t)(INT64_MAX / unit_ns - 1), &units))
		return false;
	for (const char *c = point ? point + 1 : word->text + word->length;
	     c < word->text + word->length; c++) {
		if (*c < '0' || *c > '9')
			return false;
		worth /= 10;
		part += worth * (*c - '0');
	}
	time->ns = (int64_t)units * unit_ns + part;
	return true;
}

int nod_word_fault(struct nod_scan *scan, const struct nod_word *word, const char *reason)
{
	scan->p = word->text;
	nod_scan_fail(scan, reason);
	return -1;
}

bool nod_channel_name(struct nod_other_log *log, struct nod_frame *frame, uint64_t channel)
{
	char name[16];

	if (channel > 999)
		return false;
	snprintf(name, sizeof(name), "can%u", channel ? (unsigned)channel - 1 : 0u);
	int index = nod_interfaces_index(log->table, name, strlen(name));
	frame->interface = (uint8_t)index;
	return index >= 0;
}

uint8_t nod_fd_length(unsigned dlc)
{
	static const uint8_t length[] = {0, 1, 2, 3, 4, 5, 6, 7, 8, 12, 16, 20, 24, 32, 48, 64};

	return length[dlc & 15];
}

void nod_frame_classical(struct nod_frame *frame, unsigned dlc)
{
	frame->length = (uint8_t)(dlc > 8 ? 8 : dlc);
	frame->raw_dlc = (uint8_t)(dlc > 8 ? dlc : 0);
}

static bool is_asc_header(struct nod_other_log *log, struct nod_scan scan)
{
	struct nod_word word, second;

	if (!nod_scan_word(&scan, &word) || !nod_scan_word(&scan, &second))
		return false;
	if (nod_word_is(&word, "base") &&
	    (nod_word_is(&second, "hex") || nod_word_is(&second, "dec")))
		return true;
	return nod_word_is(&word, "date") && log->lines == 1 && second.length == 3;
}

bool nod_other_log_guess(struct nod_other_log *log, const char *line, size_t length)
{
	struct nod_scan scan = nod_scan_line(line, length);

	if (++log->lines > GUESS_LINES)
		return false;
	if (is_asc_header(log, scan))
		log->form = NOD_OTHER_ASC;
	else if (nod_trc_header(log, scan))
		log->form = NOD_OTHER_TRC;
	else if (log->lines == 1 && nod_csv_log_header(log, scan))
		log->form = NOD_OTHER_CSV;
	else
		log->form = nod_serial_recognise(scan, &log->monitor);
	return log->form != NOD_OTHER_NONE;
}

static int parse(struct nod_other_log *log, struct nod_scan *scan, struct nod_frame *frame)
{
	switch (log->form) {
	case NOD_OTHER_ASC:
		return nod_asc_parse(log, scan, frame);
	case NOD_OTHER_TRC:
		return nod_trc_parse(log, scan, frame);
	case NOD_OTHER_CSV:
		return nod_csv_log_parse(log, scan, frame);
	default:
		return nod_serial_parse(log, scan, frame);
	}
}

int nod_other_log_parse(struct nod_other_log *log, struct nod_scan *scan, struct nod_frame *frame)
{
	*frame = (struct nod_frame){0};
	int status = parse(log, scan, frame);

	if (status <= 0 || nod_time_is_loggable(frame->time))
		return status;
	scan->p = scan->begin;
	nod_scan_fail(scan, "a time that is out of range");
	return -1;
}

const char *nod_other_log_name(const struct nod_other_log *log)
{
	static const char *const names[] = {"",
					    "asc log",
					    "trc log",
					    "csv log",
					    "serial adapter log",
					    "serial adapter log without times"};

	return names[log->form];
}
