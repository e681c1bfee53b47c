/* SPDX-License-Identifier: MIT */
#include "markup.h"

#include <assert.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdint.h>

#define REPLACEMENT "\xEF\xBF\xBD"

/* Length of the UTF-8 character at s and its code; 0 when it is none. */
static int decode(const unsigned char *s, uint32_t *code)
{
	static const uint32_t smallest[] = {0, 0, 0x80, 0x800, 0x10000};
	int length = s[0] < 0x80   ? 1
		     : s[0] < 0xC2 ? 0
		     : s[0] < 0xE0 ? 2
		     : s[0] < 0xF0 ? 3
		     : s[0] < 0xF5 ? 4
				   : 0;
	if (length < 2) {
		*code = s[0];
		return length;
	}
	*code = s[0] & (0x7FU >> length);
	for (int i = 1; i < length; i++) {
		if ((s[i] & 0xC0) != 0x80)
			return 0;
		*code = *code << 6 | (s[i] & 0x3FU);
	}
	return *code < smallest[length] ? 0 : length;
}

/* Control characters, what XML does not take, and what turns text around. */
static bool is_shown(uint32_t c)
{
	if (c < 0x20)
		return c == '\n' || c == '\t';
	if ((c >= 0x7F && c < 0xA0) || (c >= 0xD800 && c < 0xE000) || c > 0x10FFFF)
		return false;
	if (c == 0xFFFE || c == 0xFFFF || (c >= 0x202A && c <= 0x202E))
		return false;
	return !(c >= 0x2066 && c <= 0x2069);
}

static const char *entity(uint32_t c)
{
	switch (c) {
	case '&':
		return "&amp;";
	case '<':
		return "&lt;";
	case '>':
		return "&gt;";
	case '"':
		return "&quot;";
	case '\'':
		return "&#39;";
	default:
		return NULL;
	}
}

void nod_markup_text(FILE *out, const char *text)
{
	const unsigned char *s = (const unsigned char *)text;
	uint32_t code;

	while (*s) {
		int length = decode(s, &code);
		if (!length || !is_shown(code))
			fputs(REPLACEMENT, out);
		else if (entity(code))
			fputs(entity(code), out);
		else
			fwrite(s, 1, (size_t)length, out);
		s += length ? length : 1;
	}
}

void nod_markup(FILE *out, const char *format, ...)
{
	va_list args;

	va_start(args, format);
	for (; *format; format++) {
		if (*format != '%') {
			fputc(*format, out);
			continue;
		}
		format++;
		assert(*format == 's' || *format == 'Z' || *format == '%');
		if (*format == 's')
			nod_markup_text(out, va_arg(args, const char *));
		else if (*format == 'Z')
			fputs(va_arg(args, const char *), out);
		else
			fputc('%', out);
	}
	va_end(args);
}
