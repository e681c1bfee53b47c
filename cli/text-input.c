/* SPDX-License-Identifier: MIT */
#include "text-input.h"

#include <errno.h>
#include <iconv.h>
#include <stdbool.h>
#include <string.h>

#define BLOCK 65536 /* bytes, even */

/* Standard input cannot be read twice. */
static FILE *copy_of(FILE *in)
{
	char block[BLOCK];
	size_t n;
	FILE *copy = tmpfile();

	while (copy && (n = fread(block, 1, sizeof(block), in)) > 0)
		if (fwrite(block, 1, n, copy) != n) {
			fclose(copy);
			return NULL;
		}
	return copy;
}

/* Converts a block; what is left over of a character stays in front of the next one. */
static bool convert_block(iconv_t conversion, char *block, size_t *kept, FILE *out)
{
	char *from = block, text[2 * BLOCK], *to = text;
	size_t room = sizeof(text);

	if (iconv(conversion, &from, kept, &to, &room) == (size_t)-1 && errno != EINVAL)
		return false;
	memmove(block, from, *kept);
	return fwrite(text, 1, (size_t)(to - text), out) == (size_t)(to - text);
}

static bool convert(iconv_t conversion, FILE *in, FILE *out)
{
	char block[BLOCK];
	size_t kept = 0, n;

	while ((n = fread(block + kept, 1, sizeof(block) - kept, in)) > 0) {
		kept += n;
		if (!convert_block(conversion, block, &kept, out))
			return false;
	}
	if (kept)
		errno = EILSEQ; /* it ends within a character */
	return !kept && !ferror(in);
}

/* `in` in UTF-8, and `in` itself closed. */
static FILE *utf8_of(FILE *in)
{
	iconv_t conversion = iconv_open("UTF-8", "UTF-16"); /* which end first: its mark says */
	FILE *out = conversion == (iconv_t)-1 ? NULL : tmpfile();

	if (out && !convert(conversion, in, out)) {
		int code = errno;
		fclose(out);
		out = NULL;
		errno = code;
	}
	int code = errno;
	if (conversion != (iconv_t)-1)
		iconv_close(conversion);
	fclose(in);
	if (out)
		rewind(out);
	errno = code;
	return out;
}

FILE *nod_text_input_open(const char *path)
{
	FILE *in = strcmp(path, "-") ? fopen(path, "re") : copy_of(stdin);
	unsigned char mark[2] = {0};

	if (!in)
		return NULL;
	rewind(in);
	size_t n = fread(mark, 1, 2, in);
	rewind(in);
	bool wide = n == 2 &&
		    ((mark[0] == 0xFF && mark[1] == 0xFE) || (mark[0] == 0xFE && mark[1] == 0xFF));
	return wide ? utf8_of(in) : in;
}
