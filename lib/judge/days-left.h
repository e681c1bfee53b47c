/* SPDX-License-Identifier: MIT */
/* How many days until the car does not start, at the drain that one session
 * shows. */
#ifndef NOD_DAYS_LEFT_H
#define NOD_DAYS_LEFT_H

#include "battery.h"
#include "findings.h"
#include "timeline.h"

struct nod_outlook {
	bool drain_known;
	double drain_ua, uncertainty_ua; /* of the car when parked for long */
	const char *basis;               /* what the drain is: "mean since the settle deadline" */
	const char *missing;             /* what has to be given for the rest to be known; "" */
	struct nod_battery_input input;
	struct nod_battery battery; /* time_known says whether there are days */
};

/* The drain is the mean of the current since the last settle deadline, when at
 * least NOD_OUTLOOK_SHORTEST_S were measured after it, else the level at
 * rest. A full battery is assumed. */
#define NOD_OUTLOOK_SHORTEST_S 60 /* chosen: some cycles of whatever repeats by the second */
void nod_outlook_find(struct nod_outlook *outlook, const struct nod_findings *f,
		      const struct nod_timeline *timeline);

/* "12.3 days", "15 hours", "no limit". Returns buf. */
char *nod_outlook_time(char buf[32], int64_t seconds);

#endif
