/* SPDX-License-Identifier: MIT */
/* One line of what candump prints on the screen, with times, as people save
 * it by redirection:
 *
 *     (1700000000.123456)  can0  123   [2]  11 22          candump -ta
 *     (012.345678)  can0  12345678   [0]                   -tz, from zero
 *     (2023-11-14 22:13:20.123456)  can0  123   [0]        -tA, date and local time
 *     (..)  can0  RX B -  123  [02]  11 22                 -x; [02]: CAN FD
 *     (..)  can0  123   [4]  remote request
 *     (..)  can0  20000080   [8]  00 00 .. 00   ERRORFRAME
 *     (..)  can0  123   {E}  11 .. 88                      -8: raw DLC (from memory)
 *     (..)  can0  123   [2]  11 22             '.".'       -a
 *     (..)  can0  123   [2]  22`11                         -S, last byte first
 *
 * The dates of -tA carry no time zone; they are taken as if they were UTC, so
 * the change to or from summer time shows as a step of an hour. */
#ifndef NOD_CONSOLE_H
#define NOD_CONSOLE_H

#include "frame.h"
#include "line-scan.h"
#include "source.h"

/* Parses a whole line. Returns false with scan->fault and reason set. */
bool nod_console_parse(struct nod_scan *scan, struct nod_interfaces *table,
		       struct nod_frame *frame);

/* The time in front of a line, of any of the three kinds. */
enum nod_console_clock {
	NOD_CONSOLE_SECONDS, /* (1700000000.123456): 10 digits or more */
	NOD_CONSOLE_SHORT,   /* fewer: from zero (-tz) or since the line before (-td) */
	NOD_CONSOLE_DATE
};
bool nod_console_parse_time(struct nod_scan *scan, nod_time *time, enum nod_console_clock *clock);

/* True when what stands at the place looks like a frame in console form:
 * "can0  123   [2]", with or without flags. Adds no name to any table. */
bool nod_console_recognise(struct nod_scan scan);

/* Tells times from zero (candump -tz) from times since the line before (-td)
 * by how they run: the ones grow, the others come back to small values all
 * the time. The first line of both is zero and says nothing. Starts as all
 * zero; fed with the times of the lines in order. */
struct nod_console_run {
	uint64_t lines;
	uint64_t steps, falls; /* from the second line on; falls: those not forward */
	nod_time second, last;
	nod_duration travelled; /* sum of the sizes of the steps */
};
void nod_console_run_take(struct nod_console_run *run, nod_time time);

enum nod_console_verdict { NOD_CONSOLE_FROM_ZERO, NOD_CONSOLE_DIFFERENCES, NOD_CONSOLE_UNKNOWN };
enum nod_console_verdict nod_console_run_verdict(const struct nod_console_run *run);

#endif
