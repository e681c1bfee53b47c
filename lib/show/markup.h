/* SPDX-License-Identifier: MIT */
/* A small writer of HTML and SVG: whatever text comes in, what goes out is
 * well-formed and shows that text. */
#ifndef NOD_MARKUP_H
#define NOD_MARKUP_H

#include <stdio.h>

/* Writes text as content or as the value of an attribute in double quotes:
 * & < > " ' are escaped, control characters and bytes that are no UTF-8 become
 * U+FFFD, characters that turn the writing direction too. */
void nod_markup_text(FILE *out, const char *text);

/* printf with two more conversions' worth of safety: the format is markup as it
 * stands, and every %s argument is escaped. Only "%s", "%%" and "%Z" (a
 * string that is markup already) are understood. */
void nod_markup(FILE *out, const char *format, ...);

#endif
