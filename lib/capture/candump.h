/* SPDX-License-Identifier: MIT */
/* One line of a candump log, as can-utils writes and reads it:
 *
 *     (1700000000.123456) can0 123#1122        standard ID, data
 *     (1700000000.123456789)   can0 00000123#  extended ID, 9 digits, padded name
 *     ... 123#R  123#R4                        remote request, with its length
 *     ... 20000080#0000000000000000            error report
 *     ... 123##51122                           CAN FD; flags 0..3 (can-utils up to
 *                                              2023.03) or 4..7 (from 2025.01)
 *     ... 123#1122334455667788_E  123#R8_9     raw DLC 9..15 of 8 bytes
 *     ... 123#11.22.33                         points between bytes
 *     ... 123#1122 R                           received; " T": sent by the recorder */
#ifndef NOD_CANDUMP_H
#define NOD_CANDUMP_H

#include "frame.h"
#include "line-scan.h"
#include "source.h"

/* Remembers what seldom changes from line to line. */
struct nod_candump {
	struct nod_interfaces *table;
	/* "(1700000000." of the line before, and its seconds in nanoseconds */
	uint64_t prefix[2], prefix_mask[2];
	unsigned prefix_length;
	int64_t prefix_ns;
	/* interface names by a hash of their characters and the blank behind them */
	struct nod_candump_name {
		uint64_t key[2];
		uint8_t index;
	} names[64];
};

void nod_candump_init(struct nod_candump *candump, struct nod_interfaces *table);

/* Parses a whole line. Returns false with scan->fault and reason set. */
bool nod_candump_parse(struct nod_candump *candump, struct nod_scan *scan, struct nod_frame *frame);

/* Readable bytes that nod_candump_parse_quickly() needs where a line begins. */
#define NOD_CANDUMP_WINDOW ((size_t)256)

/* Parses the usual lines (a data frame, classical or CAN FD; the same second as
 * the line before and a known interface) from *text on without searching for their
 * ends first, as long as the window ends before `end`, at most `room`. Returns how many
 * frames it wrote; *text is then where the first line begins that it has not taken:
 * nod_candump_parse() has to look at it. That frame may have been written to. */
size_t nod_candump_parse_quickly(const struct nod_candump *candump, const char **text,
				 const char *end, struct nod_frame *frames, size_t room);

/* The same for the line at `text`, which has the window: its length with the newline, or
 * 0 when it is not a usual one. */
static inline size_t nod_candump_parse_one_quickly(const struct nod_candump *candump,
						   const char *text, struct nod_frame *frame)
{
	const char *p = text;

	nod_candump_parse_quickly(candump, &p, text + NOD_CANDUMP_WINDOW, frame, 1);
	return (size_t)(p - text);
}

#endif
