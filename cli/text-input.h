/* SPDX-License-Identifier: MIT */
/* A text file that is read more than once, in whatever its writer took for text. */
#ifndef NOD_TEXT_INPUT_H
#define NOD_TEXT_INPUT_H

#include <stdio.h>

/* Opens it; "-" is standard input, of which a copy is kept in a temporary file. A file that
 * begins with the byte order mark of UTF-16 is turned into UTF-8 in such a copy. NULL with errno
 * set: EILSEQ when it is not UTF-16 throughout. */
FILE *nod_text_input_open(const char *path);

#endif
