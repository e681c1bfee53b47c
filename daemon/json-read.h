/* SPDX-License-Identifier: MIT */
/* Reads JSON that comes over a socket, also when memory runs out.
 *
 * jansson 2.14 does not look whether the buffer of the token it reads could grow: a
 * number then lacks a digit and is delivered all the same, or an assertion ends the
 * process (load.c: lex_save, lex_unget_unsave). While a text is read, what memory lacks
 * comes out of a reserve, and the result is thrown away. */
#ifndef NOD_JSON_READ_H
#define NOD_JSON_READ_H

#include <jansson.h>

/* One value. NULL with errno: ENOMEM, or EINVAL when it is no JSON. `flags` as of
 * json_loadb(). Not for several threads. */
json_t *nod_json_read(const char *text, size_t length, size_t flags);

#endif
