/* SPDX-License-Identifier: MIT */
#include "file-read.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

char *nod_file_read(const char *path, size_t most, size_t *length, struct nod_error *err)
{
	FILE *file = strcmp(path, "-") ? fopen(path, "rb") : stdin;
	char *text = file ? malloc(most + 1) : NULL;

	*length = text ? fread(text, 1, most + 1, file) : 0;
	if (!file || !text || ferror(file)) {
		int code = errno;
		nod_error_set(err, code, "%s: %s", path, strerror(code));
		free(text);
		text = NULL;
		if (file && file != stdin)
			fclose(file);
		errno = code;
		return NULL;
	}
	if (file != stdin)
		fclose(file);
	return text;
}
