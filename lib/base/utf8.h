/* SPDX-License-Identifier: MIT */
/* Text of which nobody says how it is written: UTF-8, or Windows-1252. */
#ifndef NOD_UTF8_H
#define NOD_UTF8_H

#include <stdbool.h>
#include <stddef.h>

/* True for well-formed UTF-8 (RFC 3629: no surrogates, nothing longer than needed). */
bool nod_utf8_is(const char *text, size_t length);

/* A terminated copy in UTF-8: as it is where it is UTF-8 (without a byte order mark), else
 * read as Windows-1252 (the table of https://encoding.spec.whatwg.org/index-windows-1252.txt,
 * whose five free codes become U+FFFD here). The caller frees it; NULL: out of memory. */
char *nod_utf8_from(const char *text, size_t length, size_t *size);

#endif
