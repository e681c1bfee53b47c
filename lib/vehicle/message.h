/* SPDX-License-Identifier: MIT */
/* Messages of a vehicle file and the signals in them: what a bit means.
 *
 *     messages:
 *       TailgateStatus:
 *         id: 418                        # or 00F00400/03FFFF00: every ID that fits
 *         networks: [body]               # without: on any
 *         length: 8                      # bytes
 *         period: 100 ms
 *         sent: cyclic                   # in the words of whoever described it
 *         senders: [tailgate module]     # where it is not one module's alone
 *         comment: state of the tailgate
 *         signals:
 *           TailgateSwitch: { at: byte 4 bit 5, values: { 0: closed, 1: open } }
 *           Battery voltage: { at: byte 0 bit 7, bits: 12, byte order: big,
 *                              factor: 0.01, offset: 0, unit: V }
 *           Page: { at: byte 6 bit 0, bits: 4 }
 *           Inner temperature: { at: byte 7 bit 0, bits: 8, type: signed,
 *                                unit: degC, when: { Page: [1, 4-6] } }
 *
 * `at` is the lowest bit of a signal in little byte order (the default), the
 * highest bit of one in big byte order; bit 0 is the lowest of a byte. A number
 * alone counts bits: 37 is byte 4 bit 5. `type` is unsigned (the default), signed
 * or float (32 or 64 bits, IEEE 754). `when` names the one signal that says whether this one
 * is in a frame, and its values (raw); that one may itself depend on a third.
 * `factor` and `offset` make the value of the raw number: raw * factor + offset. */
#ifndef NOD_MESSAGE_H
#define NOD_MESSAGE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "frame.h"

/* The largest message is one of J1939 sent in pieces: 255 of 7 bytes (SAE J1939-21, from memory). */
#define NOD_MESSAGE_BYTES_MAX 1785
#define NOD_SIGNAL_BITS_MAX 64

/* first <= last with mask 0, or every ID with (id & mask) == first (last is
 * then unused). IDs carry NOD_ID_EXTENDED. */
struct nod_id_rule {
	uint32_t first, last, mask;
	unsigned line; /* where it stands in the file, 0 when made by a program */
};

enum nod_signal_type { NOD_SIGNAL_UNSIGNED, NOD_SIGNAL_SIGNED, NOD_SIGNAL_FLOAT };

struct nod_signal_value {
	int64_t raw; /* as the type reads it: -5 of a signed one; of an unsigned one its 64 bits */
	char *text;
};

struct nod_signal_range {
	uint64_t first, last; /* raw bits of the selector */
};

struct nod_signal {
	char *name;
	unsigned start; /* byte * 8 + bit, see `at` above */
	unsigned bits;  /* 1..NOD_SIGNAL_BITS_MAX */
	bool big_endian;
	enum nod_signal_type type;
	double factor, offset;
	char *unit, *comment;            /* NULL: not given */
	struct nod_signal_value *values; /* in the order of the file, each raw value once */
	size_t value_count;
	int selector; /* index in the message's signals, NOD_NONE (-1): always there */
	struct nod_signal_range *selected;
	size_t selected_count;
	unsigned line;
};

struct nod_message {
	char *name;
	struct nod_id_rule id; /* one ID, or a mask; never a range of several */
	int *networks;         /* indices; count 0: any network */
	size_t network_count;
	unsigned length; /* bytes; valid when length_given */
	bool length_given;
	nod_duration period;  /* 0: not given */
	char *sent, *comment; /* NULL: not given */
	char **senders;       /* names; need not stand among the modules */
	size_t sender_count;
	struct nod_signal *signals;
	size_t signal_count;
	unsigned line;
};

#endif
