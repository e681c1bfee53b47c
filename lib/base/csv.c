/* SPDX-License-Identifier: MIT */
#include "csv.h"

#include <errno.h>
#include <stdbool.h>
#include <string.h>

static bool is_blank(char c)
{
	return c == ' ' || c == '\t';
}

static bool ends_field(char c, char separator)
{
	if (!c || !separator)
		return !c;
	return separator == ' ' ? is_blank(c) : c == separator;
}

/* Blanks before a field belong to nobody, but a tab may be the separator. */
static char *skip_blanks(char *p, char separator)
{
	while (is_blank(*p) && *p != separator)
		p++;
	while (separator == ' ' && is_blank(*p))
		p++;
	return p;
}

/* Undoes the quotes of the field at `p`; returns what follows the field. */
static char *take_quoted(char *p, char separator)
{
	char *out = p, *in = p + 1;

	for (; *in && !(in[0] == '"' && in[1] != '"'); in++) {
		in += in[0] == '"';
		*out++ = *in;
	}
	in += *in == '"';
	while (*in && !ends_field(*in, separator))
		in++;
	bool more = *in != '\0';
	*out = '\0';
	return more ? in + 1 : NULL;
}

static char *take_plain(char *p, char separator)
{
	char *end = p;

	while (!ends_field(*end, separator))
		end++;
	bool more = *end != '\0';
	char *next = end + 1;
	while (end > p && is_blank(end[-1]))
		end--;
	*end = '\0';
	return more ? next : NULL;
}

int nod_csv_split(struct nod_csv_row *row, char *line, char separator)
{
	char *p = line;

	row->count = 0;
	while (p) {
		p = skip_blanks(p, separator);
		if (separator == ' ' && !*p)
			break;
		if (row->count == NOD_CSV_FIELDS)
			return -E2BIG;
		row->field[row->count++] = (struct nod_csv_field){p, (unsigned)(p - line) + 1};
		p = *p == '"' ? take_quoted(p, separator) : take_plain(p, separator);
	}
	return 0;
}
