/* A point in time as a person gives it.
 *
 *     1700000000.5              UNIX seconds (the clock of the capture)
 *     2023-11-14T22:13:20Z      ISO 8601; a zone is required: Z, +01:00, -0530
 *     2023-11-14 23:13+01:00
 *     lock, start, end          of the session
 *     +35 min, -2 min           after, before the lock
 *     lock+12min, start + 1 h 5 min, end-30s */
#ifndef NOD_WHEN_H
#define NOD_WHEN_H

#include "error.h"
#include "timestamp.h"

/* What relative times count from; NOD_TIME_NONE: not known. */
struct nod_when_base {
	nod_time lock, start, end;
};

/* Returns 0, or -EINVAL or -ERANGE with err saying what was expected. base NULL: nothing is
 * known. */
int nod_when_parse(nod_time *time, const char *text, const struct nod_when_base *base,
		   struct nod_error *err);

/* A time of day on a clock `zone` minutes east of UTC: "14:03:12", "14:03": the latest such
 * moment that is not later than `latest`. Returns 0 or -EINVAL with err set. */
int nod_when_parse_of_day(nod_time *time, const char *text, nod_time latest, int zone,
			  struct nod_error *err);

#define NOD_WHEN_TEXT 48

/* For people: "2023-11-14 22:13:20Z", with the fraction of a second cut off;
 * "303.004 s" when the clock does not count from 1970 (before September 2001);
 * "not known". Returns buf. */
char *nod_when_print(char buf[NOD_WHEN_TEXT], nod_time time);

#endif
