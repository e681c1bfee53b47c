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

/* Smaller changes are taken for the jitter of two readings.
 * Chosen: well above a scheduling delay between two clock readings on a busy
 * laptop (milliseconds), well below what matters to a sleep verdict (seconds). */
#define NOD_CLOCK_STEP_MIN nod_milliseconds(50)

struct nod_clock_watch {
	nod_duration offset; /* first clock - second; NOD_DURATION_NONE before the first check */
};

#define NOD_CLOCK_WATCH_INIT {{INT64_MIN}}

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

/* Compares two readings taken together with the last ones. Returns how much the
 * first clock has gained on the second since then, 0 when it did not: of the system
 * clock and boottime, by how much the clock was set (new minus old); of
 * boottime and monotonic, how long the machine was suspended. */
nod_duration nod_clock_watch_check(struct nod_clock_watch *watch, nod_time first, nod_time second);

#endif
