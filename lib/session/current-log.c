/* SPDX-License-Identifier: MIT */
#include "current-log.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

#include "quantity.h"

static int fail(unsigned *column, const char *line, const char *at, struct nod_error *err,
		const char *expected)
{
	*column = (unsigned)(at - line) + 1;
	return nod_error_set(err, EINVAL, "%s", expected);
}

int nod_current_parse(nod_time *time, int64_t *microamps, const char *line, unsigned *column,
		      struct nod_error *err)
{
	const char *p = line + strspn(line, " \t\r"), *end = line + strlen(line);
	struct nod_quantity q;

	if (!*p || *p == '#')
		return 0;
	while (end > p && strchr(" \t\r", end[-1]))
		end--;
	const char *close = *p == '(' ? strchr(p, ')') : NULL;
	if (!close || nod_time_parse(time, p + 1, (size_t)(close - p - 1)))
		return fail(column, line, p, err, "expected a time: (SECONDS.FRACTION)");
	p = close + 1;
	if (p >= end || (*p != ' ' && *p != '\t'))
		return fail(column, line, p, err, "expected a blank and a current, as 0.430 A");
	p += strspn(p, " \t");
	if (nod_quantity_parse(&q, p, (size_t)(end - p), NOD_DECIMAL_POINT, NULL) ||
	    q.unit != NOD_UNIT_AMPERE)
		return fail(column, line, p, err, "expected a current with its unit, as 0.430 A");
	if (q.micro > NOD_CURRENT_MOST || q.micro < -NOD_CURRENT_MOST)
		return fail(column, line, p, err, "no battery gives a million amperes");
	*microamps = q.micro;
	return 1;
}

int nod_current_print(char buf[NOD_CURRENT_LINE], nod_time time, int64_t microamps)
{
	char at[NOD_TIME_TEXT], value[NOD_TIME_TEXT];
	uint64_t size = microamps < 0 ? -(uint64_t)microamps : (uint64_t)microamps;

	nod_time_print(at, time, time.ns % NOD_NS_PER_US ? 9 : 6);
	snprintf(value, sizeof(value), "%s%llu.%06llu", microamps < 0 ? "-" : "",
		 (unsigned long long)(size / 1000000), (unsigned long long)(size % 1000000));
	return snprintf(buf, NOD_CURRENT_LINE, "(%s) %s A\n", at, value);
}
