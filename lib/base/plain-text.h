/* SPDX-License-Identifier: MIT */
/* Text from outside, made harmless where it comes in: what a terminal, or a program that
 * reads lines, would act on. */
#ifndef NOD_PLAIN_TEXT_H
#define NOD_PLAIN_TEXT_H

#include <stddef.h>

/* Bytes at `text` that are one control character: 1 for those below 20h and 7Fh, 2 for the
 * UTF-8 form of U+0080 to U+009F, which some terminals act on as well; 0: none there. */
size_t nod_control_length(const char *text);

/* Replaces each byte of each control character, newlines and tabs among them, by `with`. */
void nod_text_make_plain(char *text, char with);

#endif
