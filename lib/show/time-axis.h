/* SPDX-License-Identifier: MIT */
/* The time axis that everything in a picture of a session shares: from the
 * start of the recording to its end, counted from the lock. */
#ifndef NOD_AXIS_H
#define NOD_AXIS_H

#include "findings.h"
#include "timestamp.h"

struct nod_axis {
	nod_time from, to;     /* to > from */
	nod_time zero;         /* the lock */
	const char *zero_name; /* "lock"; "start" where nothing said when */
	double left, width;    /* where it lies in the picture */
};

/* The axis of a recording; one that is empty or of no length gets a second. */
struct nod_axis nod_axis_of(const struct nod_findings *f, double left, double width);

/* Where a time lies, kept inside the axis. */
double nod_axis_x(const struct nod_axis *axis, nod_time time);

/* The time at a place. */
nod_time nod_axis_time(const struct nod_axis *axis, double x);

/* A step such as people count time in, so that there are at most `most` ticks
 * (>= 1): 0.1 s up to whole days. */
nod_duration nod_axis_step(const struct nod_axis *axis, unsigned most);

/* The first tick at or after `from`: a multiple of the step from the zero. */
nod_time nod_axis_first_tick(const struct nod_axis *axis, nod_duration step);

/* "lock" (or "start"), "-30 s", "10 min", "1.5 h", "2 d": in one unit for one step. */
char *nod_axis_tick_text(char buf[NOD_TIME_TEXT], const struct nod_axis *axis,
			 nod_duration since_lock, nod_duration step);

#endif
