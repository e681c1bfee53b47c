/* SPDX-License-Identifier: MIT */
#include "moment.h"

#include <stdlib.h>
#include <string.h>

#include "text-stream.h"
#include "when.h"

/* "14:03:12" on the day of the lock, "2023-11-15 14:03:12" on another; "": not known. */
static void print_wall(char buf[NOD_WHEN_TEXT], const struct nod_findings *f, nod_time time,
		       const char *zone)
{
	char lock[NOD_WHEN_TEXT], there[NOD_WHEN_TEXT];

	nod_when_print_clock(buf, time, zone);
	if (f->clock_steps)
		*buf = '\0';
	if (!*buf || !nod_when_is_unix(f->lock))
		return;
	nod_when_print(lock, f->lock, zone);
	nod_when_print(there, time, zone);
	if (strncmp(lock, there, strlen("2023-11-14")))
		snprintf(buf, NOD_WHEN_TEXT, "%.*s", (int)strlen("2023-11-14 14:03:12"), there);
}

char *nod_moment_print(char buf[NOD_MOMENT_TEXT], const struct nod_findings *f, nod_time time,
		       const char *zone)
{
	char wall[NOD_WHEN_TEXT], length[NOD_TIME_TEXT];
	nod_duration since = nod_time_since(time, f->lock);
	const char *from = f->lock_source == NOD_LOCK_FROM_START ? "start" : "lock";

	if (!nod_time_is_set(time)) {
		strcpy(buf, "not known");
		return buf;
	}
	print_wall(wall, f, time, zone);
	nod_duration_print(length, (nod_duration){since.ns < 0 ? -since.ns : since.ns});
	snprintf(buf, NOD_MOMENT_TEXT, "%s%s%s %s %s%s", wall, *wall ? " (" : "", length,
		 since.ns < 0 ? "before" : "after", from, *wall ? ")" : "");
	return buf;
}

/* ---- in a table ---- */

/* Is more than one day in the recording, on the clock on the wall? */
static bool has_days(const struct nod_findings *f, const char *zone)
{
	char lock[NOD_WHEN_TEXT], start[NOD_WHEN_TEXT], end[NOD_WHEN_TEXT];
	const size_t date = strlen("2023-11-14");

	nod_when_print(lock, f->lock, zone);
	nod_when_print(start, f->start, zone);
	nod_when_print(end, f->end, zone);
	return strncmp(lock, start, date) || strncmp(lock, end, date);
}

/* "+99.181", to the tenth where there are days. */
static char *print_since(char buf[NOD_TIME_TEXT + 1], const struct nod_findings *f, nod_time time,
			 bool days)
{
	nod_duration since = nod_time_since(time, f->lock);

	buf[0] = '+';
	nod_duration_print_seconds(buf + (since.ns >= 0), since, days ? 1 : 3);
	return buf;
}

static bool has_clock(const struct nod_findings *f)
{
	return !f->clock_steps && nod_when_is_unix(f->lock) && nod_when_is_unix(f->start);
}

static int since_width(const struct nod_findings *f, bool days)
{
	char start[NOD_TIME_TEXT + 1], end[NOD_TIME_TEXT + 1];
	size_t first = strlen(print_since(start, f, f->start, days));
	size_t last = strlen(print_since(end, f, f->end, days));

	return (int)(first > last ? first : last);
}

int nod_moment_cell_width(const struct nod_findings *f, const char *zone)
{
	bool clock = has_clock(f), days = clock && has_days(f, zone);
	int width = since_width(f, days) +
		    (int)(clock ? strlen(days ? "Tue 14:03:12 " : "14:03:12 ") : 0);
	int heading = (int)strlen(nod_moment_cell_heading(f));

	return width > heading ? width : heading;
}

const char *nod_moment_cell_heading(const struct nod_findings *f)
{
	return f->lock_source == NOD_LOCK_FROM_START ? "at, s from start" : "at, s after lock";
}

char *nod_moment_print_cell(char buf[NOD_MOMENT_TEXT], const struct nod_findings *f, nod_time time,
			    const char *zone)
{
	bool clock = has_clock(f), days = clock && has_days(f, zone);
	char wall[NOD_WHEN_TEXT] = "", since[NOD_TIME_TEXT + 1];

	if (!nod_time_is_set(time)) {
		strcpy(buf, "-");
		return buf;
	}
	if (clock && days)
		nod_when_print_day(wall, time, zone);
	else if (clock)
		nod_when_print_clock(wall, time, zone);
	snprintf(buf, NOD_MOMENT_TEXT, "%s%s%*s", wall, *wall ? " " : "", since_width(f, days),
		 print_since(since, f, time, days));
	return buf;
}

/* ---- in a sentence ---- */

/* Length of "lock+304.573 s" at the beginning of a text, 0: it is none. */
static size_t parse_mark(const char *text, nod_duration *since)
{
	nod_time seconds;
	size_t sign = strlen("lock"), digits;

	if (text[sign] != '+' && text[sign] != '-')
		return 0;
	digits = strspn(text + sign + 1, "0123456789.");
	if (!digits || strncmp(text + sign + 1 + digits, " s", 2) ||
	    nod_time_parse(&seconds, text + sign + 1, digits))
		return 0;
	since->ns = text[sign] == '-' ? -seconds.ns : seconds.ns;
	return sign + 1 + digits + strlen(" s");
}

typedef char *print_moment(char buf[NOD_MOMENT_TEXT], const struct nod_findings *f, nod_time time,
			   const char *zone);

static char *tell(const struct nod_findings *f, const char *sentence, const char *zone,
		  print_moment *print)
{
	struct nod_text_stream told;
	char moment[NOD_MOMENT_TEXT];
	const char *mark;

	if (nod_text_stream_open(&told))
		return NULL;
	while ((mark = strstr(sentence, "lock"))) {
		nod_duration since = {0};
		size_t length = parse_mark(mark, &since);
		fwrite(sentence, 1, (size_t)(mark - sentence), told.out);
		if (length)
			fputs(print(moment, f, nod_time_after(f->lock, since), zone), told.out);
		else
			fwrite(mark, 1, length = strlen("lock"), told.out);
		sentence = mark + length;
	}
	fputs(sentence, told.out);
	return nod_text_stream_close(&told) ? NULL : told.text;
}

char *nod_moment_tell(const struct nod_findings *f, const char *sentence, const char *zone)
{
	return tell(f, sentence, zone, nod_moment_print);
}

static char *print_clock(char buf[NOD_MOMENT_TEXT], const struct nod_findings *f, nod_time time,
			 const char *zone)
{
	char wall[NOD_WHEN_TEXT];

	print_wall(wall, f, time, zone);
	if (!*wall)
		return nod_moment_print(buf, f, time, zone);
	snprintf(buf, NOD_MOMENT_TEXT, "%s", wall);
	return buf;
}

char *nod_moment_tell_clock(const struct nod_findings *f, const char *sentence, const char *zone)
{
	return tell(f, sentence, zone, print_clock);
}
