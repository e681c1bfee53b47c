/* SPDX-License-Identifier: MIT */
/* A whole file in memory. */
#ifndef NOD_FILE_READ_H
#define NOD_FILE_READ_H

#include <stddef.h>

#include "error.h"

/* The bytes of a file ("-": of standard input), at most `most` + 1 of them, so that a
 * larger one can be told. The caller frees them; NULL with errno and err set. */
char *nod_file_read(const char *path, size_t most, size_t *length, struct nod_error *err);

#endif
