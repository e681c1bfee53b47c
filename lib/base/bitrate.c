/* SPDX-License-Identifier: MIT */
#include "bitrate.h"

#include <ctype.h>
#include <string.h>
#include <strings.h>

/* The factor that stands behind the number of a bitrate, 0 for no such. */
static uint32_t bitrate_factor(const char *unit)
{
	static const char *const words[] = {"", "bit/s", "bps", "bd", "baud", NULL};
	uint32_t factor = 1;

	if (*unit == 'k' || *unit == 'K')
		factor = 1000;
	else if (*unit == 'M')
		factor = 1000000;
	unit += factor > 1;
	for (int i = 0; words[i]; i++)
		if (!strcasecmp(words[i], unit))
			return factor;
	return 0;
}

bool nod_bitrate_parse(uint64_t *bitrate, const char *text)
{
	uint64_t number = 0, parts = 1;
	bool fraction = false;
	const char *p = text;

	for (; isdigit((unsigned char)*p) || (*p == '.' && !fraction && p > text); p++) {
		if (*p == '.') {
			fraction = true;
			continue;
		}
		number = number * 10 + (uint64_t)(*p - '0');
		parts *= fraction ? 10 : 1;
		if (number > UINT64_C(1000000000) || parts > 1000000)
			return false;
	}
	if (p == text || p[-1] == '.')
		return false;
	while (*p == ' ')
		p++;
	*bitrate = number * bitrate_factor(p) / parts;
	return *bitrate > 0;
}
