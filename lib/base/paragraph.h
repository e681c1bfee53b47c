/* SPDX-License-Identifier: MIT */
/* Text for people, broken into lines that fit a terminal of 80 columns. */
#ifndef NOD_PARAGRAPH_H
#define NOD_PARAGRAPH_H

#include <stdio.h>

#define NOD_PARAGRAPH_COLUMNS 78

/* Writes `text` to out as one paragraph with a newline at its end. The first
 * line begins with `lead` ("  - ", "" or a label), the following ones with as
 * many blanks. Columns are counted as UTF-8 characters; a word longer than a
 * line stands on a line of its own. A number and its unit are not parted.
 * Written with nod_text_print(). */
void nod_paragraph_print(FILE *out, const char *lead, const char *text);

/* The same for formatted text of up to 1000 bytes (cut beyond). */
__attribute__((format(printf, 3, 4))) void nod_paragraph_printf(FILE *out, const char *lead,
								const char *format, ...);

/* Writes the first `length` bytes of a text that came from outside: what a
 * terminal would act on (control characters, also those above 7F) becomes '?'. */
void nod_text_print(FILE *out, const char *text, size_t length);

/* How many columns a UTF-8 text takes, one per character. */
int nod_text_columns(const char *text);

#endif
