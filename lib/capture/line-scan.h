/* SPDX-License-Identifier: MIT */
/* Reading one line of a capture from left to right: the pieces that the
 * candump forms share. Each returns true and moves behind what it read, or
 * leaves the place and a reason and returns false. */
#ifndef NOD_SCAN_H
#define NOD_SCAN_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "frame.h"
#include "source.h"

struct nod_scan {
	const char *begin, *p, *end;
	const char *fault;  /* where it went wrong, set with reason */
	const char *reason; /* what was expected; a string constant */
};

static inline struct nod_scan nod_scan_line(const char *text, size_t length)
{
	return (struct nod_scan){text, text, text + length, NULL, NULL};
}

/* The character at the place, '\0' at the end of the line. */
static inline char nod_scan_peek(const struct nod_scan *scan)
{
	return scan->p < scan->end ? *scan->p : '\0';
}

/* Notes that `reason` was expected at the place. Returns false. */
bool nod_scan_fail(struct nod_scan *scan, const char *reason);

/* Column of the fault, from 1. */
unsigned nod_scan_column(const struct nod_scan *scan);

/* Skips spaces and tabs. Returns how many. */
size_t nod_scan_blanks(struct nod_scan *scan);

/* One given character. */
bool nod_scan_char(struct nod_scan *scan, char c, const char *reason);

/* A given text. Never notes a fault. */
bool nod_scan_text(struct nod_scan *scan, const char *text);

/* Digits of a number up to `limit`. */
bool nod_scan_number(struct nod_scan *scan, uint64_t limit, uint64_t *value, const char *reason);

/* A fraction: a point and 1 to 9 digits, as nanoseconds. candump writes 6 or 9, serial
 * monitors and scripts fewer. */
bool nod_scan_fraction(struct nod_scan *scan, int64_t *ns);

/* "(S.FFFFFF)" or "(S.FFFFFFFFF)", with fewer digits, and with blanks before the seconds. */
bool nod_scan_time(struct nod_scan *scan, nod_time *time);

/* The name of an interface, up to the next blank. */
bool nod_scan_interface(struct nod_scan *scan, struct nod_interfaces *table, uint8_t *index);

/* An ID of 3 or 8 hexadecimal digits with its EXTENDED or ERROR flag. */
bool nod_scan_id(struct nod_scan *scan, uint32_t *id);

/* Value of a hexadecimal digit, or -1. */
int nod_scan_hex(char c);

/* Two hexadecimal digits. */
bool nod_scan_byte(struct nod_scan *scan, uint8_t *byte);

/* True for 0..8, 12, 16, 20, 24, 32, 48, 64: the payloads that CAN FD has
 * (ISO 11898-1:2015, table of data length codes). */
bool nod_scan_fd_length(unsigned length);

#endif
