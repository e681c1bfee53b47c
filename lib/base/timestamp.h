/* SPDX-License-Identifier: MIT */
/* Points in time and spans of time, as whole nanoseconds.
 *
 * Every time in nodoff is a signed 64-bit count of nanoseconds. A nod_time is
 * a point on the clock of one session (UNIX time for live recordings,
 * whatever the capture carries otherwise); a nod_duration is a difference.
 * They are parsed from text as integers, never through a double. Range:
 * about +-292 years around the origin of the clock. */
#ifndef NOD_TIMESTAMP_H
#define NOD_TIMESTAMP_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

typedef struct {
	int64_t ns;
} nod_time;

typedef struct {
	int64_t ns;
} nod_duration;

#define NOD_NS_PER_S INT64_C(1000000000)
#define NOD_NS_PER_MS INT64_C(1000000)
#define NOD_NS_PER_US INT64_C(1000)

/* "No time": earlier than every real time. */
#define NOD_TIME_NONE ((nod_time){INT64_MIN})
#define NOD_DURATION_NONE ((nod_duration){INT64_MIN})

static inline bool nod_time_is_set(nod_time t)
{
	return t.ns != INT64_MIN;
}

/* True for a time that a line of a log can hold: from 1970 to the year 2262. Frames of
 * other times are defects of the capture. */
static inline bool nod_time_is_loggable(nod_time t)
{
	return t.ns >= 0 && t.ns < INT64_MAX / NOD_NS_PER_S * NOD_NS_PER_S;
}

static inline nod_duration nod_seconds(int64_t s)
{
	return (nod_duration){s * NOD_NS_PER_S};
}

static inline nod_duration nod_milliseconds(int64_t ms)
{
	return (nod_duration){ms * NOD_NS_PER_MS};
}

/* to - from. Saturates instead of overflowing. */
nod_duration nod_time_since(nod_time to, nod_time from);

/* t + d. Saturates instead of overflowing. */
nod_time nod_time_after(nod_time t, nod_duration d);

/* a + b nanoseconds. Saturates instead of overflowing. */
int64_t nod_ns_add(int64_t a, int64_t b);

/* Parses a decimal number of seconds "[-]S[.F]" with up to 9 fraction digits
 * from the first `length` bytes of text; all of them must belong to the
 * number. Returns 0, -EINVAL (not such a number) or -ERANGE. */
int nod_time_parse(nod_time *t, const char *text, size_t length);

/* Parses a duration a person writes: a decimal number and a unit, with or
 * without a space: "90 s", "250ms", "25 min", "1.5 h", "2 d", "10 us", and
 * sums of them ("1 h 30 min"). A number without a unit is seconds.
 * Returns 0, -EINVAL or -ERANGE. */
int nod_duration_parse(nod_duration *d, const char *text);

/* Room for any of the texts below, with the terminating zero. */
#define NOD_TIME_TEXT 40

/* "S.FFFFFF" with `digits` (0..9) fraction digits, cut (not rounded) toward
 * the past, so that text order equals time order. Returns buf. */
char *nod_time_print(char buf[NOD_TIME_TEXT], nod_time t, int digits);

/* For people: "350 ms", "12.4 s", "5 min 54 s", "1 h 05 min", "3 d 4 h".
 * Rounded to what the form shows; "-" in front when negative. Returns buf. */
char *nod_duration_print(char buf[NOD_TIME_TEXT], nod_duration d);

/* Without loss, in the largest unit that leaves no fraction: "10 min", "90 s",
 * "1500 ms"; nod_duration_parse() takes it back when d >= 0. Returns buf. */
char *nod_duration_print_exact(char buf[NOD_TIME_TEXT], nod_duration d);

/* A duration as plain seconds with `digits` fraction digits, rounded half
 * away from zero: "353.768". Returns buf. */
char *nod_duration_print_seconds(char buf[NOD_TIME_TEXT], nod_duration d, int digits);

#endif
