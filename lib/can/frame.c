/* SPDX-License-Identifier: MIT */
#include "frame.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>

char *nod_id_print(char buf[NOD_ID_TEXT], uint32_t id)
{
	if (id & NOD_ID_EXTENDED)
		snprintf(buf, NOD_ID_TEXT, "%08" PRIX32, id & NOD_ID_EXTENDED_MASK);
	else
		snprintf(buf, NOD_ID_TEXT, "%03" PRIX32, id & NOD_ID_STANDARD_MASK);
	return buf;
}

static int hex_digit(char c)
{
	if (c >= '0' && c <= '9')
		return c - '0';
	if (c >= 'A' && c <= 'F')
		return c - 'A' + 10;
	if (c >= 'a' && c <= 'f')
		return c - 'a' + 10;
	return -1;
}

int nod_id_parse(uint32_t *id, const char *text, unsigned length)
{
	uint32_t value = 0;

	if (length != 8 && (length < 1 || length > 3))
		return -EINVAL;
	for (unsigned i = 0; i < length; i++) {
		int digit = hex_digit(text[i]);
		if (digit < 0)
			return -EINVAL;
		value = value << 4 | (uint32_t)digit;
	}
	if (value > (length == 8 ? NOD_ID_EXTENDED_MASK : NOD_ID_STANDARD_MASK))
		return -ERANGE;
	*id = length == 8 ? value | NOD_ID_EXTENDED : value;
	return 0;
}
