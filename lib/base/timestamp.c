/* SPDX-License-Identifier: MIT */
#include "timestamp.h"

#include <ctype.h>
#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

static const int64_t powers_of_ten[] = {1,      10,      100,      1000,      10000,
					100000, 1000000, 10000000, 100000000, 1000000000};

int64_t nod_ns_add(int64_t a, int64_t b)
{
	int64_t sum;
	if (__builtin_add_overflow(a, b, &sum))
		return a < 0 ? INT64_MIN + 1 : INT64_MAX;
	return sum;
}

nod_duration nod_time_since(nod_time to, nod_time from)
{
	int64_t difference;
	if (__builtin_sub_overflow(to.ns, from.ns, &difference))
		difference = to.ns < from.ns ? INT64_MIN + 1 : INT64_MAX;
	return (nod_duration){difference};
}

nod_time nod_time_after(nod_time t, nod_duration d)
{
	return (nod_time){nod_ns_add(t.ns, d.ns)};
}

/* Reads "S[.F]" at *text as nanoseconds and moves *text behind it. unit is
 * the length of one S in nanoseconds and divisible by 10^digits read. */
static int read_decimal(const char **text, const char *end, int64_t unit, int64_t *ns)
{
	const char *p = *text;
	int64_t whole = 0, fraction = 0;
	int digits = 0;

	if (p == end || !isdigit((unsigned char)*p))
		return -EINVAL;
	for (; p < end && isdigit((unsigned char)*p); p++)
		if (__builtin_mul_overflow(whole, 10, &whole) ||
		    __builtin_add_overflow(whole, *p - '0', &whole))
			return -ERANGE;
	if (p < end && *p == '.') {
		const char *first = ++p;
		for (; p < end && isdigit((unsigned char)*p); p++) {
			if (++digits > 9)
				return -EINVAL;
			fraction = fraction * 10 + (*p - '0');
		}
		if (p == first)
			return -EINVAL;
	}
	/* Units from a second up are multiples of 10^9 ns, those below are at most 10^6 ns: either
	 * way what is multiplied stays below a day, or 10^15. */
	int64_t power = powers_of_ten[digits];
	int64_t part = unit % power ? fraction * unit / power : fraction * (unit / power);
	if (__builtin_mul_overflow(whole, unit, &whole) || __builtin_add_overflow(whole, part, ns))
		return -ERANGE;
	*text = p;
	return 0;
}

int nod_time_parse(nod_time *t, const char *text, size_t length)
{
	const char *end = text + length;
	bool negative = length && *text == '-';
	int64_t ns;

	text += negative;
	int status = read_decimal(&text, end, NOD_NS_PER_S, &ns);
	if (status)
		return status;
	if (text != end)
		return -EINVAL;
	t->ns = negative ? -ns : ns;
	return 0;
}

static const struct {
	const char *name;
	int64_t ns;
} units[] = {
	{"ns", 1},
	{"us", NOD_NS_PER_US},
	{"ms", NOD_NS_PER_MS},
	{"s", NOD_NS_PER_S},
	{"sec", NOD_NS_PER_S},
	{"seconds", NOD_NS_PER_S},
	{"min", 60 * NOD_NS_PER_S},
	{"minutes", 60 * NOD_NS_PER_S},
	{"h", 3600 * NOD_NS_PER_S},
	{"hours", 3600 * NOD_NS_PER_S},
	{"d", 86400 * NOD_NS_PER_S},
	{"days", 86400 * NOD_NS_PER_S},
};

static int64_t unit_at(const char *text, size_t length)
{
	for (size_t i = 0; i < sizeof(units) / sizeof(units[0]); i++)
		if (strlen(units[i].name) == length && !memcmp(units[i].name, text, length))
			return units[i].ns;
	return length ? 0 : NOD_NS_PER_S;
}

static const char *skip_blanks(const char *p)
{
	while (*p == ' ' || *p == '\t')
		p++;
	return p;
}

int nod_duration_parse(nod_duration *d, const char *text)
{
	int64_t total = 0;
	const char *p = skip_blanks(text);

	if (!*p)
		return -EINVAL;
	while (*p) {
		const char *number = p;
		while (isdigit((unsigned char)*p) || *p == '.')
			p++;
		const char *number_end = p;
		const char *unit = skip_blanks(p);
		for (p = unit; isalpha((unsigned char)*p);)
			p++;
		int64_t unit_ns = unit_at(unit, (size_t)(p - unit)), ns;
		if (!unit_ns)
			return -EINVAL;
		int status = read_decimal(&number, number_end, unit_ns, &ns);
		if (status)
			return status;
		if (number != number_end)
			return -EINVAL;
		if (__builtin_add_overflow(total, ns, &total))
			return -ERANGE;
		p = skip_blanks(p);
	}
	d->ns = total;
	return 0;
}

static uint64_t magnitude(int64_t ns)
{
	return ns < 0 ? -(uint64_t)ns : (uint64_t)ns;
}

char *nod_time_print(char buf[NOD_TIME_TEXT], nod_time t, int digits)
{
	int64_t step = powers_of_ten[9 - digits];
	int64_t floored = t.ns / step - (t.ns % step < 0); /* toward the past */
	uint64_t count = magnitude(floored), per_second = (uint64_t)powers_of_ten[digits];
	const char *sign = floored < 0 ? "-" : "";

	if (digits)
		snprintf(buf, NOD_TIME_TEXT, "%s%" PRIu64 ".%0*" PRIu64, sign, count / per_second,
			 digits, count % per_second);
	else
		snprintf(buf, NOD_TIME_TEXT, "%s%" PRIu64, sign, count);
	return buf;
}

char *nod_duration_print_seconds(char buf[NOD_TIME_TEXT], nod_duration d, int digits)
{
	uint64_t step = (uint64_t)powers_of_ten[9 - digits];
	uint64_t count = (magnitude(d.ns) + step / 2) / step;
	uint64_t per_second = (uint64_t)powers_of_ten[digits];
	const char *sign = d.ns < 0 && count ? "-" : "";

	if (digits)
		snprintf(buf, NOD_TIME_TEXT, "%s%" PRIu64 ".%0*" PRIu64, sign, count / per_second,
			 digits, count % per_second);
	else
		snprintf(buf, NOD_TIME_TEXT, "%s%" PRIu64, sign, count);
	return buf;
}

char *nod_duration_print(char buf[NOD_TIME_TEXT], nod_duration d)
{
	uint64_t ns = magnitude(d.ns);
	uint64_t ms = (ns + 500000) / 1000000, s = (ns + 500000000) / 1000000000;
	const char *sign = d.ns < 0 && ms ? "-" : "";

	if (ms < 1000)
		snprintf(buf, NOD_TIME_TEXT, "%s%" PRIu64 " ms", sign, ms);
	else if (ms < 59950)
		snprintf(buf, NOD_TIME_TEXT, "%s%" PRIu64 ".%" PRIu64 " s", sign, (ms + 50) / 1000,
			 (ms + 50) % 1000 / 100);
	else if (s < 3600)
		snprintf(buf, NOD_TIME_TEXT, "%s%" PRIu64 " min %02" PRIu64 " s", sign, s / 60,
			 s % 60);
	else if (s < 86400)
		snprintf(buf, NOD_TIME_TEXT, "%s%" PRIu64 " h %02" PRIu64 " min", sign,
			 (s + 30) / 3600, (s + 30) % 3600 / 60);
	else
		snprintf(buf, NOD_TIME_TEXT, "%s%" PRIu64 " d %" PRIu64 " h", sign,
			 (s + 1800) / 86400, (s + 1800) % 86400 / 3600);
	return buf;
}

char *nod_duration_print_exact(char buf[NOD_TIME_TEXT], nod_duration d)
{
	static const struct {
		int64_t ns;
		const char *name;
	} sizes[] = {{86400 * NOD_NS_PER_S, "d"},
		     {3600 * NOD_NS_PER_S, "h"},
		     {60 * NOD_NS_PER_S, "min"},
		     {NOD_NS_PER_S, "s"},
		     {NOD_NS_PER_MS, "ms"},
		     {NOD_NS_PER_US, "us"},
		     {1, "ns"}};
	size_t i = 0;

	while (d.ns % sizes[i].ns)
		i++;
	snprintf(buf, NOD_TIME_TEXT, "%" PRId64 " %s", d.ns / sizes[i].ns,
		 d.ns ? sizes[i].name : "s");
	return buf;
}
