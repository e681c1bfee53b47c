/* SPDX-License-Identifier: MIT */
/* Puts the time stamps of an adapter's own clock on the system clock.
 *
 * An adapter stamps a frame when it ends on the wire, on a clock that starts
 * anywhere and drifts; the kernel stamps it when it arrives, which is later by
 * a delay that changes (USB, interrupts) but is never negative. The smallest
 * difference seen is therefore the best guess of the clocks' offset; it may
 * rise slowly so that a drifting adapter is followed. A mapped time is never
 * later than the kernel's own stamp. */
#ifndef NOD_HARDWARE_CLOCK_H
#define NOD_HARDWARE_CLOCK_H

#include <stdbool.h>

#include "timestamp.h"

/* How fast the offset may rise: nanoseconds per second of the adapter's clock.
 * Chosen: twice the 100 ppm that two ordinary quartz oscillators may differ by
 * (common practice, no source). */
#define NOD_HARDWARE_CLOCK_DRIFT_NS_PER_S INT64_C(200000)

/* A larger jump is a reset of the adapter or a set system clock: the offset is
 * taken anew. Chosen: far above any delivery delay. */
#define NOD_HARDWARE_CLOCK_RESET nod_seconds(1)

struct nod_hardware_clock {
	bool running;
	nod_time last;       /* the adapter's clock at the last frame */
	nod_duration offset; /* system clock minus adapter's clock */
};

/* The system time of a frame that the adapter stamped `hardware` and the
 * kernel `software`. */
nod_time nod_hardware_clock_map(struct nod_hardware_clock *clock, nod_time hardware,
				nod_time software);

#endif
