/* SPDX-License-Identifier: MIT */
#include "utf8.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

/* The bytes of one character, 0 when it is malformed. */
static size_t character(const unsigned char *t, size_t left)
{
	static const unsigned char least[5] = {0, 0, 0, 0xA0, 0x90};
	size_t size = *t < 0x80   ? 1
		      : *t < 0xC2 ? 0
		      : *t < 0xE0 ? 2
		      : *t < 0xF0 ? 3
		      : *t < 0xF5 ? 4
				  : 0;

	if (!size || size > left)
		return 0;
	for (size_t i = 1; i < size; i++)
		if ((t[i] & 0xC0) != 0x80)
			return 0;
	if ((*t == 0xE0 || *t == 0xF0) && t[1] < least[size])
		return 0;
	if ((*t == 0xED && t[1] > 0x9F) || (*t == 0xF4 && t[1] > 0x8F))
		return 0;
	return size;
}

bool nod_utf8_is(const char *text, size_t length)
{
	const unsigned char *t = (const unsigned char *)text;

	for (size_t i = 0, step; i < length; i += step) {
		step = character(t + i, length - i);
		if (!step)
			return false;
	}
	return true;
}

/* Windows-1252 from 80 to 9F; the other bytes are the numbers of their characters. */
static const uint16_t high[32] = {
	0x20AC, 0xFFFD, 0x201A, 0x0192, 0x201E, 0x2026, 0x2020, 0x2021, 0x02C6, 0x2030, 0x0160,
	0x2039, 0x0152, 0xFFFD, 0x017D, 0xFFFD, 0xFFFD, 0x2018, 0x2019, 0x201C, 0x201D, 0x2022,
	0x2013, 0x2014, 0x02DC, 0x2122, 0x0161, 0x203A, 0x0153, 0xFFFD, 0x017E, 0x0178,
};

static size_t put(char *out, unsigned byte)
{
	unsigned c = byte >= 0x80 && byte < 0xA0 ? high[byte - 0x80] : byte;

	if (c < 0x80) {
		out[0] = (char)c;
		return 1;
	}
	if (c < 0x800) {
		out[0] = (char)(0xC0 | c >> 6);
		out[1] = (char)(0x80 | (c & 0x3F));
		return 2;
	}
	out[0] = (char)(0xE0 | c >> 12);
	out[1] = (char)(0x80 | (c >> 6 & 0x3F));
	out[2] = (char)(0x80 | (c & 0x3F));
	return 3;
}

char *nod_utf8_from(const char *text, size_t length, size_t *size)
{
	bool is = nod_utf8_is(text, length);
	size_t mark = is && length >= 3 && !memcmp(text, "\xEF\xBB\xBF", 3) ? 3 : 0, used = 0;
	char *out = malloc((is ? length : 3 * length) + 1);

	if (!out)
		return NULL;
	if (is && length > mark)
		memcpy(out, text + mark, used = length - mark);
	for (size_t i = 0; !is && i < length; i++)
		used += put(out + used, (unsigned char)text[i]);
	out[used] = 0;
	*size = used;
	return out;
}
