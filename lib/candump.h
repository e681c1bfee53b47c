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
#include "scan.h"
#include "source.h"

/* Remembers what seldom changes from line to line. */
struct nod_candump {
	struct nod_interfaces *table;
	/* "(1700000000." of the line before, and its seconds in nanoseconds */
	uint64_t prefix[2], prefix_mask[2];
	unsigned prefix_length;
	int64_t prefix_ns;
	/* interface names by a hash of their characters */
	struct {
		uint64_t key[2];
		uint8_t index, length;
	} names[64];
};

void nod_candump_init(struct nod_candump *candump, struct nod_interfaces *table);

/* Parses a whole line. Returns false with scan->fault and reason set. */
bool nod_candump_parse(struct nod_candump *candump, struct nod_scan *scan, struct nod_frame *frame);

/* Readable bytes that nod_candump_parse_quickly() needs at `text`. */
#define NOD_CANDUMP_WINDOW ((size_t)256)

/* Parses the usual line (a data frame, classical or CAN FD; the same second as
 * the line before and a known interface) without searching for its end first. Returns its length with the
 * newline, or 0: then nod_candump_parse() has to look at the line. */
size_t nod_candump_parse_quickly(struct nod_candump *candump, const char *text,
				 struct nod_frame *frame);

#endif
