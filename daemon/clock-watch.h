/* SPDX-License-Identifier: MIT */
/* Notices that the system clock was set.
 *
 * Frames carry the system clock (CLOCK_REALTIME), so that networks and the
 * journal compare; when somebody sets that clock, times before and after do
 * not. The step shows as a change of the difference between CLOCK_REALTIME
 * and CLOCK_BOOTTIME, which the slow steering of a time service does not
 * make: it moves both.
 *
 * While the machine is suspended nobody listens, but the system clock is right
 * afterwards: that is no step. It shows as a change of the difference between
 * CLOCK_BOOTTIME, which goes on meanwhile, and CLOCK_MONOTONIC, which stops. */
#ifndef NOD_CLOCK_WATCH_H
#define NOD_CLOCK_WATCH_H

#include "timestamp.h"

/* Smaller changes are no step. Chosen: what a time service steers away instead of
 * setting the clock is less than 128 ms (ntpd's step threshold, from memory), and what
 * matters to a sleep verdict is seconds. */
#define NOD_CLOCK_STEP_MIN nod_milliseconds(50)

/* The clocks at one moment. On a busy machine a process may wait between two readings
 * for longer than a step is large, so it is told how far they may lie apart. */
struct nod_clock_reading {
	nod_time system, boottime, monotonic;
	nod_duration apart; /* all three were read within so long */
};

/* Reads the clocks between two readings of one that nobody sets, and again when
 * these are more than a millisecond apart; of NOD_CLOCK_READINGS the closest. */
#define NOD_CLOCK_READINGS 8
void nod_clock_read(struct nod_clock_reading *reading);

struct nod_clock_watch {
	nod_duration offset; /* first clock - second; NOD_DURATION_NONE before the first check */
	nod_duration apart;  /* how far off that may be */
};

#define NOD_CLOCK_WATCH_INIT \
	{                    \
		{INT64_MIN}, \
		{            \
			0    \
		}            \
	}

/* The system clock now. */
nod_time nod_clock_now(void);

/* A clock that nobody sets, for measuring spans of time; it stops while the
 * machine is suspended. */
nod_time nod_clock_monotonic(void);

/* The same, but it goes on while the machine is suspended. */
nod_time nod_clock_boottime(void);

/* Cut toward the past to whole microseconds, as a candump log writes times:
 * what is analysed live is exactly what is read again later. */
nod_time nod_clock_to_microseconds(nod_time time);

/* Compares two readings, taken within `apart`, with the last ones. Returns how much the
 * first clock has gained on the second since then, 0 when that cannot be told from the
 * time between the readings: of the system
 * clock and boottime, by how much the clock was set (new minus old); of
 * boottime and monotonic, how long the machine was suspended. */
nod_duration nod_clock_watch_check(struct nod_clock_watch *watch, nod_time first, nod_time second,
				   nod_duration apart);

#endif
