/* SPDX-License-Identifier: MIT */
/* A date and a time of day as loggers write them: ISO 8601, 14.11.2023
 * 22:13:20, 11/14/2023 10:13:20 PM, 22:13:20.5. What a text leaves open (the
 * order of day and month, the date, the zone) stays open until it is given. */
#ifndef NOD_WALL_TIME_H
#define NOD_WALL_TIME_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "timestamp.h"

enum nod_date_order {
	NOD_DATE_YMD, /* year first */
	NOD_DATE_DMY,
	NOD_DATE_MDY,
	NOD_DATE_OPEN /* day or month first: the text does not say */
};

struct nod_wall_time {
	bool has_date, has_time, has_zone;
	enum nod_date_order order;
	int year, first, second; /* YMD: month, day; else in the order of the text */
	int64_t of_day;          /* nanoseconds since midnight */
	int zone;                /* minutes east of UTC */
};

/* Parses the whole text. A comma is taken before the fraction of a second
 * only with `comma`. Years have four digits, or two for 2000-2099. Returns 0
 * or -EINVAL. */
int nod_wall_parse(struct nod_wall_time *wall, const char *text, bool comma);

/* The point in time; an open order is taken as `order`, a missing zone as
 * `zone`. Returns 0 or -EINVAL (no such day, or no date). */
int nod_wall_to_time(nod_time *time, const struct nod_wall_time *wall, enum nod_date_order order,
		     int zone);

/* "Z", "UTC", "+01:00", "-0530", "+1". Returns 0 or -EINVAL. */
int nod_zone_parse(int *minutes, const char *text);

/* "2023-11-14 22:13:20 UTC", cut to the second. Returns buf. */
char *nod_wall_print(char buf[NOD_TIME_TEXT], nod_time time);

#endif
