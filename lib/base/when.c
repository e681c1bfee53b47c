/* SPDX-License-Identifier: MIT */
#include "when.h"

#include <ctype.h>
#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

#include "wall-time.h"
#include "zone.h"

#define DAY_NS (86400 * NOD_NS_PER_S)

/* A recording has this many days at most in which a time of day is looked for. */
#define DAYS_MAX 400

static const struct nod_when_base nothing = {
	{INT64_MIN}, {INT64_MIN}, {INT64_MIN}, {INT64_MIN}, NULL};

static int refuse(struct nod_error *err, const char *text)
{
	return nod_error_set(err, EINVAL,
			     "`%.60s` is no time; expected +35 min (after the lock), 14:03:12, "
			     "start+1h, end-5min, 2023-11-14 22:13 or UNIX seconds",
			     text);
}

static bool has_now(const struct nod_when_base *base)
{
	return base->now.ns > 0;
}

/* Takes the last word away when it is the name of a zone. */
static const char *split_zone(char *text)
{
	char *space = strrchr(text, ' ');
	int minutes;

	if (!space || !isalpha((unsigned char)space[1]) || strlen(space + 1) < 3 ||
	    !nod_zone_parse(&minutes, space + 1))
		return NULL;
	*space = '\0';
	return space + 1;
}

/* The wall's time in a zone as a point in time. */
static int from_wall(nod_time *time, nod_time wall, const char *zone, struct nod_error *err)
{
	int64_t fraction = wall.ns % NOD_NS_PER_S, utc;

	if (nod_zone_to_utc(&utc, (wall.ns - fraction) / NOD_NS_PER_S, zone, err))
		return -EINVAL;
	time->ns = utc * NOD_NS_PER_S + fraction;
	return 0;
}

/* Midnight on the wall of the day that a point in time is in. */
static nod_time midnight(nod_time time, const char *zone)
{
	int64_t wall = time.ns + nod_zone_offset(zone, time.ns / NOD_NS_PER_S) * NOD_NS_PER_S;

	return (nod_time){wall - wall % DAY_NS};
}

static int64_t apart(nod_time a, nod_time from, nod_time to)
{
	return a.ns < from.ns ? from.ns - a.ns : a.ns > to.ns ? a.ns - to.ns : 0;
}

/* A time of day about now: the last such time. */
static int last_time(nod_time *time, int64_t of_day, const struct nod_when_base *base,
		     const char *zone, struct nod_error *err)
{
	nod_time day = midnight(base->now, zone);

	if (from_wall(time, (nod_time){day.ns + of_day}, zone, err))
		return -EINVAL;
	if (time->ns <= base->now.ns)
		return 0;
	return from_wall(time, (nod_time){day.ns - DAY_NS + of_day}, zone, err);
}

/* A time of day of a recording: the one in it, else the nearest to it. */
static int nearest_time(nod_time *time, const char *text, int64_t of_day,
			const struct nod_when_base *base, const char *zone, struct nod_error *err)
{
	nod_time end = nod_time_is_set(base->end) ? base->end : base->start;
	nod_time day = midnight(base->start, zone);
	int inside = 0;

	*time = NOD_TIME_NONE;
	day.ns -= DAY_NS;
	for (int i = 0; i < DAYS_MAX && day.ns <= end.ns + DAY_NS; i++, day.ns += DAY_NS) {
		nod_time t;
		if (from_wall(&t, (nod_time){day.ns + of_day}, zone, err))
			return -EINVAL;
		inside += !apart(t, base->start, end);
		if (!nod_time_is_set(*time) ||
		    apart(t, base->start, end) < apart(*time, base->start, end))
			*time = t;
	}
	if (inside > 1)
		return nod_error_set(err, EINVAL,
				     "`%.60s` comes %d times in the recording; say the "
				     "date as well",
				     text, inside);
	return 0;
}

static int parse_of_day(nod_time *time, const char *text, const struct nod_wall_time *wall,
			const struct nod_when_base *base, const char *zone, struct nod_error *err)
{
	if (wall->has_zone)
		return nod_error_set(err, EINVAL, "`%.60s`: say the date as well", text);
	if (has_now(base))
		return last_time(time, wall->of_day, base, zone, err);
	if (!nod_time_is_set(base->start))
		return nod_error_set(err, EINVAL, "`%.60s`: say the date as well", text);
	if (!nod_when_is_unix(base->start))
		return nod_error_set(err, EINVAL,
				     "`%.60s`: the clock of this recording does not tell "
				     "the time of day; expected +35 min or start+1h",
				     text);
	return nearest_time(time, text, wall->of_day, base, zone, err);
}

static int parse_wall(nod_time *time, const char *text, const struct nod_when_base *base,
		      struct nod_error *err)
{
	struct nod_wall_time wall;
	char copy[100];

	if (snprintf(copy, sizeof(copy), "%s", text) >= (int)sizeof(copy))
		return refuse(err, text);
	const char *named = split_zone(copy);
	const char *zone = named ? named : base->zone;
	if (nod_wall_parse(&wall, copy, false) || !wall.has_time)
		return refuse(err, text);
	if (!wall.has_date)
		return parse_of_day(time, text, &wall, base, zone, err);
	if (wall.order == NOD_DATE_OPEN)
		return nod_error_set(err, EINVAL,
				     "`%.60s` does not say which is the day and which the "
				     "month; expected 2023-11-14 or 14.11.2023",
				     text);
	if (wall.year < 1970 || wall.year > 2200)
		return nod_error_set(err, ERANGE, "`%.60s` is too far away", text);
	if (wall.of_day >= DAY_NS || nod_wall_to_time(time, &wall, NOD_DATE_YMD, 0))
		return refuse(err, text);
	return wall.has_zone ? 0 : from_wall(time, *time, zone, err);
}

/* "2 min ago". */
static int parse_ago(nod_time *time, const char *text, size_t length,
		     const struct nod_when_base *base, struct nod_error *err)
{
	char copy[100];
	nod_duration d;

	snprintf(copy, sizeof(copy), "%.*s", (int)length, text);
	if (nod_duration_parse(&d, copy))
		return refuse(err, text);
	if (!has_now(base))
		return nod_error_set(err, EINVAL,
				     "`%.60s`: a recording has no now; expected end-2min, "
				     "+35 min (after the lock) or 14:03:12",
				     text);
	*time = nod_time_after(base->now, (nod_duration){-d.ns});
	return 0;
}

/* "+35 min" or "-2 min" after a base that has a name. */
static int parse_offset(nod_time *time, const char *text, const char *offset, nod_time base,
			const char *name, struct nod_error *err)
{
	nod_duration d = {0};

	offset += strspn(offset, " ");
	if (*offset && *offset != '+' && *offset != '-')
		return refuse(err, text);
	if (*offset && nod_duration_parse(&d, offset + 1))
		return refuse(err, text);
	if (!nod_time_is_set(base))
		return nod_error_set(err, EINVAL, "`%.60s`: the %s is not known", text, name);
	if (*offset == '-')
		d.ns = -d.ns;
	*time = nod_time_after(base, d);
	return 0;
}

/* "4 ago", " ago": the length of what stands before it; 0: nothing does. */
static size_t before_ago(const char *text)
{
	const char *ago = strstr(text, " ago");

	return ago && !ago[4] ? (size_t)(ago - text) : 0;
}

static int parse_now(nod_time *time, const struct nod_when_base *base, struct nod_error *err)
{
	*time = base->now;
	return has_now(base) ? 0
			     : nod_error_set(err, EINVAL, "a recording has no now; expected end");
}

int nod_when_parse(nod_time *time, const char *text, const struct nod_when_base *base,
		   struct nod_error *err)
{
	const struct nod_when_base *b = base ? base : &nothing;
	const struct {
		const char *word, *name;
		nod_time base;
	} words[] = {{"lock", "lock time", b->lock},
		     {"start", "start of the recording", b->start},
		     {"end", "end of the recording", b->end}};

	text += strspn(text, " ");
	for (size_t i = 0; i < sizeof(words) / sizeof(words[0]); i++)
		if (!strncmp(text, words[i].word, strlen(words[i].word)))
			return parse_offset(time, text, text + strlen(words[i].word), words[i].base,
					    words[i].name, err);
	if (!strcmp(text, "now"))
		return parse_now(time, b, err);
	if (before_ago(text))
		return parse_ago(time, text, before_ago(text), b, err);
	if (*text == '+' || *text == '-')
		return parse_offset(time, text, text, b->lock, "lock time", err);
	if (!nod_time_parse(time, text, strlen(text)))
		return 0;
	return parse_wall(time, text, b, err);
}

/* Earlier times than 10^9 s (September 2001) are some other clock's. */
#define UNIX_MIN (INT64_C(1000000000) * NOD_NS_PER_S)

bool nod_when_is_unix(nod_time time)
{
	return nod_time_is_set(time) && time.ns >= UNIX_MIN;
}

static bool on_the_wall(struct tm *tm, int *east, nod_time time, const char *zone)
{
	time_t seconds = (time_t)(time.ns / NOD_NS_PER_S);

	if (!nod_when_is_unix(time))
		return false;
	*east = nod_zone_offset(zone, seconds);
	seconds += *east;
	return gmtime_r(&seconds, tm) != NULL;
}

char *nod_when_print(char buf[NOD_WHEN_TEXT], nod_time time, const char *zone)
{
	char text[NOD_TIME_TEXT];
	struct tm tm;
	int east;

	if (!nod_time_is_set(time)) {
		snprintf(buf, NOD_WHEN_TEXT, "not known");
	} else if (!on_the_wall(&tm, &east, time, zone)) {
		snprintf(buf, NOD_WHEN_TEXT, "%s s", nod_time_print(text, time, 3));
	} else {
		size_t used = strftime(buf, NOD_WHEN_TEXT, "%Y-%m-%d %H:%M:%S", &tm);
		unsigned minutes = (unsigned)(east < 0 ? -east : east) / 60;
		if (east)
			snprintf(buf + used, NOD_WHEN_TEXT - used, "%c%02u:%02u",
				 east < 0 ? '-' : '+', minutes / 60 % 100, minutes % 60);
		else
			strcpy(buf + used, "Z");
	}
	return buf;
}

char *nod_when_print_clock(char buf[NOD_WHEN_TEXT], nod_time time, const char *zone)
{
	struct tm tm;
	int east;

	*buf = '\0';
	if (on_the_wall(&tm, &east, time, zone))
		strftime(buf, NOD_WHEN_TEXT, "%H:%M:%S", &tm);
	return buf;
}

char *nod_when_print_day(char buf[NOD_WHEN_TEXT], nod_time time, const char *zone)
{
	static const char days[7][4] = {"Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"};
	char clock[NOD_WHEN_TEXT];
	struct tm tm;
	int east;

	*buf = '\0';
	if (on_the_wall(&tm, &east, time, zone))
		snprintf(buf, NOD_WHEN_TEXT, "%s %.12s", days[tm.tm_wday % 7],
			 nod_when_print_clock(clock, time, zone));
	return buf;
}
