/* SPDX-License-Identifier: MIT */
#include "wall-time.h"

#include <ctype.h>
#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

#define SECONDS_PER_DAY 86400

/* Takes 1 to `most` digits. Returns how many, 0 for none or too many. */
static int take_number(const char **p, int most, int *value)
{
	int digits = 0;

	*value = 0;
	while (isdigit((unsigned char)**p) && digits <= most) {
		*value = *value * 10 + (*(*p)++ - '0');
		digits++;
	}
	return digits > most ? 0 : digits;
}

static bool take_mark(const char **p, char mark)
{
	if (**p != mark)
		return false;
	(*p)++;
	return true;
}

static bool take_date(struct nod_wall_time *w, const char **text)
{
	const char *p = *text;
	int a, b, c, digits_a = take_number(&p, 4, &a);
	char mark = *p;

	if (!digits_a || digits_a == 3 || (mark != '-' && mark != '/' && mark != '.'))
		return false;
	p++;
	if (!take_number(&p, 2, &b) || !take_mark(&p, mark))
		return false;
	int digits_c = take_number(&p, 4, &c);
	if (digits_a == 4 && (digits_c == 1 || digits_c == 2)) {
		w->order = NOD_DATE_YMD;
		w->year = a, w->first = b, w->second = c;
	} else if (digits_a <= 2 && (digits_c == 4 || digits_c == 2)) {
		w->order = mark == '.' || a > 12 ? NOD_DATE_DMY
			   : b > 12              ? NOD_DATE_MDY
						 : NOD_DATE_OPEN;
		w->year = digits_c == 2 ? 2000 + c : c;
		w->first = a, w->second = b;
	} else {
		return false;
	}
	w->has_date = true;
	*text = p;
	return true;
}

static bool take_fraction(const char **p, int64_t *ns)
{
	int64_t unit = NOD_NS_PER_S / 10;

	if (!isdigit((unsigned char)**p))
		return false;
	for (*ns = 0; isdigit((unsigned char)**p); (*p)++, unit /= 10)
		*ns += unit * (**p - '0');
	return true;
}

/* " AM", "pm": the hour of a twelve-hour clock. */
static bool take_half(const char **text, int *hour)
{
	const char *p = *text + strspn(*text, " ");
	bool pm = !strncasecmp(p, "pm", 2);

	if (!pm && strncasecmp(p, "am", 2))
		return true;
	if (*hour < 1 || *hour > 12)
		return false;
	*hour = *hour % 12 + (pm ? 12 : 0);
	*text = p + 2;
	return true;
}

static bool take_clock(struct nod_wall_time *w, const char **text, bool comma)
{
	const char *p = *text;
	int hour, minute, second = 0;
	int64_t fraction = 0;

	if (!take_number(&p, 2, &hour) || !take_mark(&p, ':') || take_number(&p, 2, &minute) != 2)
		return false;
	if (take_mark(&p, ':')) {
		if (take_number(&p, 2, &second) != 2)
			return false;
		if ((take_mark(&p, '.') || (comma && take_mark(&p, ','))) &&
		    !take_fraction(&p, &fraction))
			return false;
	}
	if (!take_half(&p, &hour) || hour > 23 || minute > 59 || second > 60)
		return false;
	w->of_day = ((hour * 60 + minute) * 60 + second) * NOD_NS_PER_S + fraction;
	w->has_time = true;
	*text = p;
	return true;
}

int nod_zone_parse(int *minutes, const char *text)
{
	const char *p = text;
	int hour, minute = 0;

	*minutes = 0;
	if (!strcasecmp(text, "z") || !strcasecmp(text, "utc") || !strcasecmp(text, "gmt"))
		return 0;
	if (*p != '+' && *p != '-')
		return -EINVAL;
	int sign = *p++ == '-' ? -1 : 1;
	size_t digits = strspn(p, "0123456789");
	if (digits == 4) { /* "+0100" */
		hour = (p[0] - '0') * 10 + (p[1] - '0');
		p += 2;
		take_number(&p, 2, &minute);
	} else if (digits < 1 || digits > 2 || !take_number(&p, 2, &hour) ||
		   (take_mark(&p, ':') && take_number(&p, 2, &minute) != 2)) {
		return -EINVAL;
	}
	if (*p || hour > 14 || minute > 59)
		return -EINVAL;
	*minutes = sign * (hour * 60 + minute);
	return 0;
}

int nod_wall_parse(struct nod_wall_time *w, const char *text, bool comma)
{
	const char *p = text + strspn(text, " ");

	*w = (struct nod_wall_time){0};
	if (take_date(w, &p)) {
		if (*p == 'T' || *p == 't')
			p++;
		else
			p += strspn(p, " ");
	}
	if (*p && !take_clock(w, &p, comma))
		return -EINVAL;
	p += strspn(p, " ");
	if (*p && w->has_time) {
		w->has_zone = !nod_zone_parse(&w->zone, p);
		if (!w->has_zone)
			return -EINVAL;
	}
	return w->has_date || w->has_time ? 0 : -EINVAL;
}

/* Days since 1970-01-01 in the Gregorian calendar: months counted from March,
 * so that a leap day comes last. */
static int64_t days_since_1970(int year, int month, int day)
{
	int y = year - (month <= 2), era = y / 400, of_era = y - era * 400;
	int of_year = (153 * (month + (month > 2 ? -3 : 9)) + 2) / 5 + day - 1;

	return (int64_t)era * 146097 + of_era * 365 + of_era / 4 - of_era / 100 + of_year - 719468;
}

static bool is_day(int year, int month, int day)
{
	static const int days[] = {31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
	bool leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);

	return year >= 1970 && year <= 2200 && month >= 1 && month <= 12 && day >= 1 &&
	       day <= days[month - 1] - (month == 2 && !leap);
}

int nod_wall_to_time(nod_time *time, const struct nod_wall_time *w, enum nod_date_order order,
		     int zone)
{
	if (w->order != NOD_DATE_OPEN)
		order = w->order;
	int month = order == NOD_DATE_DMY ? w->second : w->first;
	int day = order == NOD_DATE_DMY ? w->first : w->second;

	if (!w->has_date || order == NOD_DATE_OPEN || !is_day(w->year, month, day))
		return -EINVAL;
	int64_t seconds = days_since_1970(w->year, month, day) * SECONDS_PER_DAY -
			  (w->has_zone ? w->zone : zone) * 60;
	time->ns = seconds * NOD_NS_PER_S + w->of_day;
	return 0;
}

char *nod_wall_print(char buf[NOD_TIME_TEXT], nod_time time)
{
	int64_t s = time.ns / NOD_NS_PER_S - (time.ns % NOD_NS_PER_S < 0);
	int64_t days = s / SECONDS_PER_DAY - (s % SECONDS_PER_DAY < 0);
	unsigned of_day = (unsigned)(s - days * SECONDS_PER_DAY) % SECONDS_PER_DAY;
	int year = 1970;

	/* times are within 292 years of 1970: counting years is short enough */
	while (days < days_since_1970(year, 1, 1) && year > 1600)
		year--;
	while (days >= days_since_1970(year + 1, 1, 1))
		year++;
	int month = 1;
	while (month < 12 && days >= days_since_1970(year, month + 1, 1))
		month++;
	unsigned day = (unsigned)(days - days_since_1970(year, month, 1) + 1) % 32;
	snprintf(buf, NOD_TIME_TEXT, "%04d-%02u-%02u %02u:%02u:%02u UTC", year,
		 (unsigned)month % 13, day, of_day / 3600, of_day / 60 % 60, of_day % 60);
	return buf;
}
