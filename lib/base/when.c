#include "when.h"

#include <ctype.h>
#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

#include "wall-time.h"

static int refuse(struct nod_error *err, const char *text)
{
	return nod_error_set(err, EINVAL,
			     "`%.60s` is no time; expected +35 min (after the lock), start+1h, "
			     "end-5min, 2023-11-14T22:13:20Z or UNIX seconds", text);
}

/* Reads exactly `count` digits. False when there are fewer. */
static bool read_digits(const char **p, int count, int *value)
{
	*value = 0;
	for (int i = 0; i < count; i++, (*p)++) {
		if (!isdigit((unsigned char)**p))
			return false;
		*value = *value * 10 + (**p - '0');
	}
	return true;
}

static bool read_date(const char **p, struct tm *tm)
{
	if (!read_digits(p, 4, &tm->tm_year) || *(*p)++ != '-' ||
	    !read_digits(p, 2, &tm->tm_mon) || *(*p)++ != '-' || !read_digits(p, 2, &tm->tm_mday))
		return false;
	tm->tm_year -= 1900;
	tm->tm_mon -= 1;
	return true;
}

/* "22:13", "22:13:20" or "22:13:20.5"; the fraction goes to *ns. */
static bool read_clock(const char **p, struct tm *tm, int64_t *ns)
{
	int64_t unit = NOD_NS_PER_S / 10;

	*ns = 0;
	if (!read_digits(p, 2, &tm->tm_hour) || *(*p)++ != ':' || !read_digits(p, 2, &tm->tm_min))
		return false;
	if (**p != ':')
		return true;
	(*p)++;
	if (!read_digits(p, 2, &tm->tm_sec))
		return false;
	if (**p != '.')
		return true;
	for ((*p)++; isdigit((unsigned char)**p); (*p)++, unit /= 10)
		*ns += (**p - '0') * unit; /* digits below a nanosecond count nothing */
	return true;
}

/* "Z", "+01:00", "+0100" or "+01", as seconds east. */
static bool read_zone(const char **p, int *east)
{
	int hours, minutes = 0, sign = **p == '-' ? -1 : 1;

	*east = 0;
	if (**p == 'Z' || **p == 'z') {
		(*p)++;
		return true;
	}
	if ((**p != '+' && **p != '-') || ((*p)++, !read_digits(p, 2, &hours)))
		return false;
	if (**p == ':')
		(*p)++;
	if (**p && !read_digits(p, 2, &minutes))
		return false;
	*east = sign * (hours * 3600 + minutes * 60);
	return hours <= 14 && minutes < 60;
}

/* timegm() would take the 31st of June for the 1st of July. */
static bool to_seconds(const struct tm *given, int64_t *seconds)
{
	struct tm tm = *given;

	*seconds = timegm(&tm);
	return tm.tm_year == given->tm_year && tm.tm_mon == given->tm_mon &&
	       tm.tm_mday == given->tm_mday && tm.tm_hour == given->tm_hour &&
	       tm.tm_min == given->tm_min && tm.tm_sec == given->tm_sec;
}

static int parse_iso(nod_time *time, const char *text, struct nod_error *err)
{
	struct tm tm = {0};
	const char *p = text;
	int64_t seconds, ns;
	int east;

	if (!read_date(&p, &tm) || (*p != 'T' && *p != 't' && *p != ' '))
		return refuse(err, text);
	p++;
	if (!read_clock(&p, &tm, &ns))
		return refuse(err, text);
	if (!*p)
		return nod_error_set(err, EINVAL,
				     "`%.60s` does not say its time zone; add Z or one as +01:00", text);
	if (!read_zone(&p, &east) || *p || !to_seconds(&tm, &seconds))
		return refuse(err, text);
	if (tm.tm_year < 1700 - 1900 || tm.tm_year > 2200 - 1900)
		return nod_error_set(err, ERANGE, "`%.60s` is too far away", text);
	time->ns = (seconds - east) * NOD_NS_PER_S + ns;
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

static bool looks_like_date(const char *text)
{
	return strspn(text, "0123456789") == 4 && text[4] == '-';
}

int nod_when_parse(nod_time *time, const char *text, const struct nod_when_base *base,
		   struct nod_error *err)
{
	static const struct nod_when_base nothing = {
		{INT64_MIN}, {INT64_MIN}, {INT64_MIN}};
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
			return parse_offset(time, text, text + strlen(words[i].word),
					    words[i].base, words[i].name, err);
	if (*text == '+' || *text == '-')
		return parse_offset(time, text, text, b->lock, "lock time", err);
	if (looks_like_date(text))
		return parse_iso(time, text, err);
	return nod_time_parse(time, text, strlen(text)) ? refuse(err, text) : 0;
}

int nod_when_parse_of_day(nod_time *time, const char *text, nod_time latest, int zone,
			  struct nod_error *err)
{
	const int64_t day = 24 * 3600 * NOD_NS_PER_S;
	int64_t midnight_to_latest, east = zone * 60 * NOD_NS_PER_S;
	struct nod_wall_time wall;

	if (nod_wall_parse(&wall, text, false) || !wall.has_time || wall.has_date || wall.has_zone)
		return nod_error_set(err, EINVAL,
				     "`%.60s` is no time of day; expected one as 14:03:12", text);
	midnight_to_latest = (latest.ns % day + east % day + 2 * day) % day;
	time->ns = nod_ns_add(latest.ns, wall.of_day - midnight_to_latest);
	if (time->ns > latest.ns)
		time->ns = nod_ns_add(time->ns, -day);
	return 0;
}

/* Earlier times than 10^9 s (September 2001) are some other clock's. */
#define UNIX_MIN (INT64_C(1000000000) * NOD_NS_PER_S)

char *nod_when_print(char buf[NOD_WHEN_TEXT], nod_time time)
{
	char text[NOD_TIME_TEXT];
	time_t seconds = time.ns / NOD_NS_PER_S;
	struct tm tm;

	if (!nod_time_is_set(time))
		snprintf(buf, NOD_WHEN_TEXT, "not known");
	else if (time.ns >= UNIX_MIN && gmtime_r(&seconds, &tm))
		strftime(buf, NOD_WHEN_TEXT, "%Y-%m-%d %H:%M:%SZ", &tm);
	else
		snprintf(buf, NOD_WHEN_TEXT, "%s s", nod_time_print(text, time, 3));
	return buf;
}
