/* SPDX-License-Identifier: MIT */
/* Time zones by their name, "Europe/Berlin", through glibc and the machine's
 * table of zones, or by what they are off: "+01:00", "Z". NULL is the machine's own zone (TZ, else /etc/localtime).
 *
 * A named zone is looked up by setting TZ for the moment: not for two threads
 * at a time. */
#ifndef NOD_ZONE_H
#define NOD_ZONE_H

#include <stdbool.h>
#include <stdint.h>

#include "error.h"

/* Is there a zone of that name on this machine? */
bool nod_zone_is_known(const char *zone);

#define NOD_ZONE_TEXT 64

/* The name of the machine's own zone; "" where nothing says it. Returns buf. */
char *nod_zone_print(char buf[NOD_ZONE_TEXT]);

/* Makes it the machine's for this process, in which nothing else has begun. Returns 0, or
 * -EINVAL with err set. */
int nod_zone_use(const char *zone, struct nod_error *err);

/* Seconds east of UTC at a point in time (UNIX seconds); an unknown zone: 0. */
int nod_zone_offset(const char *zone, int64_t utc);

/* From what a clock on the wall shows (seconds as if it were UTC) to UNIX
 * seconds. Returns 0, or -EINVAL with err saying why: no such zone, or in that night
 * the clocks were set and the wall showed this twice or never. */
int nod_zone_to_utc(int64_t *utc, int64_t wall, const char *zone, struct nod_error *err);

#endif
