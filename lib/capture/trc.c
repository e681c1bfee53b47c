/* SPDX-License-Identifier: MIT */
/* One line of a trc log. What is no frame (bus events, status) says nothing here. */
#include <stdio.h>
#include <string.h>

#include "other-log.h"

/* N number, O time offset in ms, T type, B bus, I ID, d direction, R reserved, L length, l
 * length code, D data. */
static const struct {
	const char *version, *columns;
} versions[] = {
	{"1.1", "NOdILD"},  {"1.2", "NOBdILD"},   {"1.3", "NOBdIRLD"},
	{"2.0", "NOTIdlD"}, {"2.1", "NOTBIdRLD"},
};

static void take_columns(struct nod_other_log *log, const char *text, size_t length)
{
	size_t used = 0;

	for (size_t i = 0; i < length && used + 1 < sizeof(log->columns); i++)
		if (strchr("NOTBIdRLlD", text[i]))
			log->columns[used++] = text[i];
	log->columns[used] = 0;
}

bool nod_trc_header(struct nod_other_log *log, struct nod_scan scan)
{
	if (nod_scan_text(&scan, ";$FILEVERSION=")) {
		for (size_t i = 0; i < sizeof(versions) / sizeof(versions[0]); i++)
			if (nod_scan_text(&scan, versions[i].version))
				take_columns(log, versions[i].columns, strlen(versions[i].columns));
		return true;
	}
	if (nod_scan_text(&scan, ";$COLUMNS=")) {
		take_columns(log, scan.p, (size_t)(scan.end - scan.p));
		return true;
	}
	/* without a version it is 1.0; its first line is a rule of these */
	return log->lines == 1 && nod_scan_text(&scan, ";######");
}

/* What a line is by its type; false: no frame. Types of version 2 beside DT: from memory. */
static bool take_type(const struct nod_word *word, struct nod_frame *frame)
{
	static const struct {
		const char *type;
		uint32_t id;
		uint8_t flags;
	} types[] = {
		{"DT", 0, 0},
		{"RR", NOD_ID_REMOTE, 0},
		{"FD", 0, NOD_FRAME_FD},
		{"FB", 0, NOD_FRAME_FD | NOD_FRAME_BRS},
		{"FE", 0, NOD_FRAME_FD | NOD_FRAME_ESI},
		{"BI", 0, NOD_FRAME_FD | NOD_FRAME_BRS | NOD_FRAME_ESI},
	};

	for (size_t i = 0; i < sizeof(types) / sizeof(types[0]); i++)
		if (nod_word_is(word, types[i].type)) {
			frame->id |= types[i].id;
			frame->flags |= types[i].flags;
			return true;
		}
	return false;
}

/* Four digits are a standard ID, more an extended one. FFFFFFFF in version 1.0 is an event. */
static int take_id(struct nod_scan *scan, const struct nod_word *word, struct nod_frame *frame)
{
	bool extended = word->length > 4;
	uint64_t id;

	if (nod_word_is(word, "FFFFFFFF"))
		return 0;
	if (!nod_word_number(word, 16, extended ? NOD_ID_EXTENDED_MASK : NOD_ID_STANDARD_MASK, &id))
		return nod_word_fault(scan, word, "expected an ID");
	frame->id |= (uint32_t)id | (extended ? NOD_ID_EXTENDED : 0);
	return 1;
}

static int take_length(struct nod_scan *scan, const struct nod_word *word, bool code,
		       struct nod_frame *frame)
{
	bool is_fd = frame->flags & NOD_FRAME_FD;
	uint64_t number;

	if (!nod_word_number(word, 10, is_fd && !code ? 64 : 15, &number) ||
	    (is_fd && !code && !nod_scan_fd_length((unsigned)number)))
		return nod_word_fault(scan, word, "expected a data length");
	if (is_fd)
		frame->length = code ? nod_fd_length((unsigned)number) : (uint8_t)number;
	else
		nod_frame_classical(frame, (unsigned)number);
	return 1;
}

static int take_data(struct nod_scan *scan, struct nod_frame *frame)
{
	struct nod_word word;
	uint64_t byte;

	for (unsigned i = 0; i < frame->length; i++) {
		bool there = nod_scan_word(scan, &word);
		if (there && !i && nod_word_is(&word, "RTR")) {
			frame->id |= NOD_ID_REMOTE;
			return 1;
		}
		if (frame->id & NOD_ID_REMOTE)
			return 1;
		if (!there || !nod_word_number(&word, 16, 0xFF, &byte))
			return nod_word_fault(scan, &word, "expected a byte");
		frame->data[i] = (uint8_t)byte;
	}
	return 1;
}

static int take_column(struct nod_other_log *log, struct nod_scan *scan, char column,
		       const struct nod_word *word, struct nod_frame *frame)
{
	uint64_t bus;

	switch (column) {
	case 'O':
		return nod_word_time(word, NOD_NS_PER_MS, &frame->time)
			       ? 1
			       : nod_word_fault(scan, word, "expected a time in ms");
	case 'T':
		return take_type(word, frame);
	case 'B':
		return nod_word_number(word, 10, 255, &bus) && nod_channel_name(log, frame, bus)
			       ? 1
			       : nod_word_fault(scan, word, "expected the number of a bus");
	case 'I':
		return take_id(scan, word, frame);
	case 'd':
		if (!nod_word_is(word, "Rx") && !nod_word_is(word, "Tx"))
			return 0; /* "Warng", "Error" of version 1 */
		frame->flags |= nod_word_is(word, "Rx") ? NOD_FRAME_RECEIVED : NOD_FRAME_SENT;
		return 1;
	case 'L':
	case 'l':
		return take_length(scan, word, column == 'l', frame);
	default:
		return 1;
	}
}

int nod_trc_parse(struct nod_other_log *log, struct nod_scan *scan, struct nod_frame *frame)
{
	const char *columns = *log->columns ? log->columns : "NOILD";
	struct nod_word word;

	nod_scan_blanks(scan);
	if (nod_scan_peek(scan) == ';') {
		nod_trc_header(log, *scan);
		return 0;
	}
	if (!nod_channel_name(log, frame, 1)) {
		nod_scan_fail(scan, "more than 255 different interface names");
		return -1;
	}
	for (const char *c = columns; *c && *c != 'D'; c++) {
		if (!nod_scan_word(scan, &word))
			return nod_word_fault(scan, &word, "expected more columns");
		int status = take_column(log, scan, *c, &word, frame);
		if (status <= 0)
			return status;
	}
	return take_data(scan, frame);
}
