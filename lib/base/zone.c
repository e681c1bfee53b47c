/* SPDX-License-Identifier: MIT */
#include "zone.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

/* Where tzdata puts them; TZDIR is glibc's way to say another place. */
#define ZONES "/usr/share/zoneinfo"

/* Longer than any change of the clocks, shorter than the time between two. */
#define DAY_S 86400

bool nod_zone_is_known(const char *zone)
{
	const char *directory = getenv("TZDIR");
	char path[512];
	int length = snprintf(path, sizeof(path), "%s/%s",
			      directory && *directory ? directory : ZONES, zone);

	if (!strcmp(zone, "UTC"))
		return true; /* without tzdata, too */
	return length < (int)sizeof(path) && *zone && *zone != '/' && !strstr(zone, "..") &&
	       !access(path, R_OK);
}

static int offset_here(int64_t utc)
{
	time_t seconds = (time_t)utc;
	struct tm tm;

	tzset();
	return localtime_r(&seconds, &tm) ? (int)tm.tm_gmtoff : 0;
}

int nod_zone_offset(const char *zone, int64_t utc)
{
	const char *before = getenv("TZ");

	if (!zone)
		return offset_here(utc);
	char *kept = before ? strdup(before) : NULL;
	if ((before && !kept) || !nod_zone_is_known(zone) || setenv("TZ", zone, 1)) {
		free(kept);
		return 0;
	}
	int offset = offset_here(utc);
	if (kept)
		setenv("TZ", kept, 1);
	else
		unsetenv("TZ");
	tzset();
	free(kept);
	return offset;
}

int nod_zone_to_utc(int64_t *utc, int64_t wall, const char *zone, struct nod_error *err)
{
	if (zone && !nod_zone_is_known(zone))
		return nod_error_set(
			err, EINVAL,
			"this machine knows no time zone `%.60s`; expected one such as "
			"Europe/Berlin, Z or +01:00",
			zone);
	/* The offsets that are in force around it; a day off is near enough. */
	int64_t early = wall - nod_zone_offset(zone, wall - DAY_S);
	int64_t late = wall - nod_zone_offset(zone, wall + DAY_S);
	bool early_fits = early + nod_zone_offset(zone, early) == wall;
	bool late_fits = late + nod_zone_offset(zone, late) == wall;

	if (early_fits && late_fits && early != late)
		return nod_error_set(err, EINVAL,
				     "the clocks were set back in that night and showed this "
				     "time twice; add Z or a zone such as +01:00");
	if (!early_fits && !late_fits)
		return nod_error_set(err, EINVAL,
				     "the clocks were set forward in that night and never "
				     "showed this time; add Z or a zone such as +01:00");
	*utc = early_fits ? early : late;
	return 0;
}
