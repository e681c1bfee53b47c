/* SPDX-License-Identifier: MIT */
#include "yaml-text.h"

#include <ctype.h>
#include <stdbool.h>
#include <string.h>

static bool is_plain(const char *text)
{
	size_t length = strlen(text);

	if (!isalnum((unsigned char)*text) || text[length - 1] == ' ')
		return false;
	for (const char *c = text; *c; c++)
		if (!isalnum((unsigned char)*c) && !strchr(" ._-/+()", *c))
			return false;
	return true;
}

void nod_yaml_write(FILE *out, const char *text)
{
	if (is_plain(text)) {
		fputs(text, out);
		return;
	}
	fputc('"', out);
	for (const char *c = text; *c; c++) {
		if (*c == '"' || *c == '\\')
			fputc('\\', out);
		fputc(*c, out);
	}
	fputc('"', out);
}
