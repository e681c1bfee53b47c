/* SPDX-License-Identifier: MIT */
#include "error.h"

#include <stdarg.h>
#include <inttypes.h>
#include <stdio.h>

#include "plain-text.h"

int nod_error_set(struct nod_error *err, int code, const char *format, ...)
{
	if (err) {
		va_list args;
		va_start(args, format);
		vsnprintf(err->text, sizeof(err->text), format, args);
		va_end(args);
		nod_text_make_plain(err->text, '?'); /* names of files and words of input */
	}
	return -code;
}

int nod_error_at(struct nod_error *err, int code, const char *file, uint64_t line,
		 unsigned long column, const char *format, ...)
{
	if (err) {
		size_t size = sizeof(err->text);
		int used = column ? snprintf(err->text, size, "%s:%" PRIu64 ":%lu: ", file, line,
					     column)
				  : snprintf(err->text, size, "%s:%" PRIu64 ": ", file, line);
		if (used >= 0 && (size_t)used < size) {
			va_list args;
			va_start(args, format);
			vsnprintf(err->text + used, size - (size_t)used, format, args);
			va_end(args);
		}
		nod_text_make_plain(err->text, '?');
	}
	return -code;
}
