/* SPDX-License-Identifier: MIT */
#include "paragraph.h"

#include <stdarg.h>
#include <stdbool.h>
#include <string.h>

/* Longest word that is kept beside the number before it: "ohm,", "mA).". */
#define UNIT_LENGTH 5

static int columns(const char *text, size_t length)
{
	int count = 0;

	for (size_t i = 0; i < length; i++)
		count += ((unsigned char)text[i] & 0xC0) != 0x80; /* not a continuation byte */
	return count;
}

int nod_text_columns(const char *text)
{
	return columns(text, strlen(text));
}

void nod_text_print(FILE *out, const char *text, size_t length)
{
	for (size_t i = 0; i < length; i++) {
		unsigned char c = (unsigned char)text[i];
		unsigned char next = i + 1 < length ? (unsigned char)text[i + 1] : 0;
		bool high = c == 0xC2 && next >= 0x80 && next < 0xA0; /* U+0080 to U+009F */
		fputc(c < 0x20 || c == 0x7F || high ? '?' : c, out);
		i += high;
	}
}

static int is_digit(char c)
{
	return c >= '0' && c <= '9';
}

/* What must stay on one line: a word, and after a number its unit. */
static size_t piece_length(const char *text)
{
	size_t length = strcspn(text, " ");

	if (!length || !is_digit(text[length - 1]) || text[length] != ' ')
		return length;
	size_t unit = strcspn(text + length + 1, " ");
	return unit && unit <= UNIT_LENGTH ? length + 1 + unit : length;
}

void nod_paragraph_print(FILE *out, const char *lead, const char *text)
{
	int indent = nod_text_columns(lead), column = indent;

	fputs(lead, out);
	for (const char *word = text + strspn(text, " "); *word;) {
		size_t length = piece_length(word);
		int width = columns(word, length);
		int space = column > indent;
		if (space && column + 1 + width > NOD_PARAGRAPH_COLUMNS) {
			fprintf(out, "\n%*s", indent, "");
			column = indent;
			space = 0;
		}
		fputs(space ? " " : "", out);
		nod_text_print(out, word, length);
		column += space + width;
		word += length;
		word += strspn(word, " ");
	}
	fputc('\n', out);
}

void nod_paragraph_printf(FILE *out, const char *lead, const char *format, ...)
{
	char text[1001];
	va_list args;

	va_start(args, format);
	vsnprintf(text, sizeof(text), format, args);
	va_end(args);
	nod_paragraph_print(out, lead, text);
}
