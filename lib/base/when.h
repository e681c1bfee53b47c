/* SPDX-License-Identifier: MIT */
/* A point in time as a person gives it.
 *
 *     14:03:12, 19:30           the clock on the wall: that time of the recording, or the
 *                               last such time when it is about now
 *     2 min ago, now            only where there is a now
 *     2023-11-14T22:13:20Z      ISO 8601, with its zone: Z, +01:00, -0530
 *     2023-11-14 23:13:20       without: the zone of the base
 *     2023-11-14 23:13 Europe/Berlin, 19:30 UTC
 *     14.11.2023 23:13
 *     lock, start, end          of the session
 *     +35 min, -2 min           after, before the lock
 *     lock+12min, start + 1 h 5 min, end-30s
 *     1700000000.5              UNIX seconds (the clock of the capture) */
#ifndef NOD_WHEN_H
#define NOD_WHEN_H

#include "error.h"
#include "timestamp.h"

/* What a time counts from; NOD_TIME_NONE: not known. */
struct nod_when_base {
	nod_time lock, start, end;
	nod_time now;     /* 0 or NOD_TIME_NONE: a recording, in which there is no now */
	const char *zone; /* "Europe/Berlin"; NULL: the machine's */
};

/* Returns 0, or -EINVAL or -ERANGE with err saying what was expected. base NULL: nothing is
 * known. */
int nod_when_parse(nod_time *time, const char *text, const struct nod_when_base *base,
		   struct nod_error *err);

/* Does this clock count from 1970? Others count from when a logger was switched on. */
bool nod_when_is_unix(nod_time time);

#define NOD_WHEN_TEXT 48

/* For people, cut to the second, in a zone (NULL: the machine's): "2023-11-14 22:13:20Z",
 * "2023-11-14 23:13:20+01:00"; "303.004 s" when the clock does not count from 1970 (before
 * September 2001); "not known". Returns buf. */
char *nod_when_print(char buf[NOD_WHEN_TEXT], nod_time time, const char *zone);

/* The time of day alone: "23:13:20"; "" when the clock does not count from 1970 or
 * the time is not known. Returns buf. */
char *nod_when_print_clock(char buf[NOD_WHEN_TEXT], nod_time time, const char *zone);
/* With the day of the week: "Tue 23:13:20". */
char *nod_when_print_day(char buf[NOD_WHEN_TEXT], nod_time time, const char *zone);

#endif
