#include "paragraph.h"

#include <stdarg.h>
#include <string.h>

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

void nod_paragraph_print(FILE *out, const char *lead, const char *text)
{
	int indent = nod_text_columns(lead), column = indent;

	fputs(lead, out);
	for (const char *word = text + strspn(text, " "); *word;) {
		size_t length = strcspn(word, " ");
		int width = columns(word, length);
		int space = column > indent;
		if (space && column + 1 + width > NOD_PARAGRAPH_COLUMNS) {
			fprintf(out, "\n%*s", indent, "");
			column = indent;
			space = 0;
		}
		fprintf(out, "%s%.*s", space ? " " : "", (int)length, word);
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
