/* SPDX-License-Identifier: MIT */
#include "zone.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "wall-time.h"

/* Where tzdata puts them; TZDIR is glibc's way to say another place. */
#define ZONES "/usr/share/zoneinfo"

/* Longer than any change of the clocks, shorter than the time between two. */
#define DAY_S 86400

bool nod_zone_is_known(const char *zone)
{
	const char *directory = getenv("TZDIR");
	char path[512];
	int minutes, length = snprintf(path, sizeof(path), "%s/%s",
				       directory && *directory ? directory : ZONES, zone);

	if (!nod_zone_parse(&minutes, zone))
		return true; /* without tzdata, too */
	return length < (int)sizeof(path) && *zone && *zone != '/' && !strstr(zone, "..") &&
	       !access(path, R_OK);
}

char *nod_zone_print(char buf[NOD_ZONE_TEXT])
{
	char link[256];
	const char *set = getenv("TZ"), *mark = "/zoneinfo/";
	ssize_t length = set ? -1 : readlink("/etc/localtime", link, sizeof(link) - 1);

	link[length < 0 ? 0 : length] = '\0';
	const char *found = strstr(link, mark), *name = set     ? set
							: found ? found + strlen(mark)
								: "";
	snprintf(buf, NOD_ZONE_TEXT, "%s",
		 strlen(name) < NOD_ZONE_TEXT && nod_zone_is_known(name) ? name : "");
	return buf;
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
	int minutes;

	if (!zone)
		return offset_here(utc);
	if (!nod_zone_parse(&minutes, zone))
		return minutes * 60;
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

static int refuse(const char *zone, struct nod_error *err)
{
	return nod_error_set(err, EINVAL,
			     "this machine knows no time zone `%.60s`; expected one such as "
			     "Europe/Berlin, Z or +01:00",
			     zone);
}

int nod_zone_use(const char *zone, struct nod_error *err)
{
	char fixed[32];
	int minutes;

	if (!nod_zone_is_known(zone))
		return refuse(zone, err);
	/* POSIX counts to the west: <+0100>-01:00 is an hour east of Greenwich. */
	if (!nod_zone_parse(&minutes, zone)) {
		unsigned apart = (unsigned)(minutes < 0 ? -minutes : minutes) % 1440;
		snprintf(fixed, sizeof(fixed), "<%c%02u%02u>%c%02u:%02u", minutes < 0 ? '-' : '+',
			 apart / 60, apart % 60, minutes < 0 ? '+' : '-', apart / 60, apart % 60);
		zone = fixed;
	}
	if (setenv("TZ", zone, 1))
		return nod_error_set(err, ENOMEM, "out of memory");
	tzset();
	return 0;
}

int nod_zone_to_utc(int64_t *utc, int64_t wall, const char *zone, struct nod_error *err)
{
	if (zone && !nod_zone_is_known(zone))
		return refuse(zone, err);
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
