/* SPDX-License-Identifier: MIT */
/* Writing text as a YAML scalar. */
#ifndef NOD_YAML_TEXT_H
#define NOD_YAML_TEXT_H

#include <stdio.h>

/* Writes UTF-8 text without control characters: as it stands where YAML takes
 * it so, in block and in bracket form, else in double quotes. */
void nod_yaml_write(FILE *out, const char *text);

#endif
