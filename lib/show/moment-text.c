/* SPDX-License-Identifier: MIT */
#include "moment-text.h"

#include <stdlib.h>
#include <string.h>

#include "paragraph.h"
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

const char *nod_moment_zero(const struct nod_findings *f)
{
	return f->lock_source == NOD_LOCK_FROM_START ? "start" : "lock";
}

char *nod_moment_print(char buf[NOD_MOMENT_TEXT], const struct nod_findings *f, nod_time time,
		       const char *zone)
{
	char wall[NOD_WHEN_TEXT], length[NOD_TIME_TEXT];
	nod_duration since = nod_time_since(time, f->lock);

	if (!nod_time_is_set(time)) {
		strcpy(buf, "not known");
		return buf;
	}
	print_wall(wall, f, time, zone);
	nod_duration_print(length, (nod_duration){since.ns < 0 ? -since.ns : since.ns});
	snprintf(buf, NOD_MOMENT_TEXT, "%s%s%s %s %s%s", wall, *wall ? " (" : "", length,
		 since.ns < 0 ? "before" : "after", nod_moment_zero(f), *wall ? ")" : "");
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

/* Length of "+304.573 s" at the beginning of a text, 0: it is none. */
static size_t parse_since(const char *text, nod_duration *since)
{
	nod_time seconds;
	size_t digits;

	if (*text != '+' && *text != '-')
		return 0;
	digits = strspn(text + 1, "0123456789.");
	if (!digits || strncmp(text + 1 + digits, " s", 2) ||
	    nod_time_parse(&seconds, text + 1, digits))
		return 0;
	since->ns = *text == '-' ? -seconds.ns : seconds.ns;
	return 1 + digits + strlen(" s");
}

/* The next "lock+304.573 s" of a text and where it ends; NULL: there is none. */
static const char *find_moment(const char *text, const char *zero, const char **end,
			       nod_duration *since)
{
	for (const char *at = text; (at = strstr(at, zero)); at += strlen(zero)) {
		size_t length = parse_since(at + strlen(zero), since);
		*end = at + strlen(zero) + length;
		if (length)
			return at;
	}
	return NULL;
}

typedef char *print_moment(char buf[NOD_MOMENT_TEXT], const struct nod_findings *f, nod_time time,
			   const char *zone);

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

/* "from A to B": how long after the lock B is need not be said, too. */
static bool is_end_of_range(const char *sentence, const char *last, const char *mark)
{
	return last != sentence && mark - last == (ptrdiff_t)strlen(" to ") &&
	       !strncmp(last, " to ", strlen(" to "));
}

static char *tell(const struct nod_findings *f, const char *sentence, const char *zone,
		  print_moment *print)
{
	struct nod_text_stream told;
	char moment[NOD_MOMENT_TEXT];
	const char *last = sentence, *mark, *end;
	nod_duration since;

	if (nod_text_stream_open(&told))
		return NULL;
	while ((mark = find_moment(last, nod_moment_zero(f), &end, &since))) {
		print_moment *how = is_end_of_range(sentence, last, mark) ? print_clock : print;
		fwrite(last, 1, (size_t)(mark - last), told.out);
		fputs(how(moment, f, nod_time_after(f->lock, since), zone), told.out);
		last = end;
	}
	fputs(last, told.out);
	return nod_text_stream_close(&told) ? NULL : told.text;
}

char *nod_moment_tell(const struct nod_findings *f, const char *sentence, const char *zone)
{
	return tell(f, sentence, zone, nod_moment_print);
}

bool nod_moment_print_paragraph(FILE *out, const char *lead, const struct nod_findings *f,
				const char *sentence, const char *zone)
{
	char *told = nod_moment_tell(f, sentence, zone);
	bool is_told = told;

	if (told)
		nod_paragraph_print(out, lead, told);
	free(told);
	return is_told;
}

char *nod_moment_tell_clock(const struct nod_findings *f, const char *sentence, const char *zone)
{
	return tell(f, sentence, zone, print_clock);
}
