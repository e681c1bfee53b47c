/* SPDX-License-Identifier: MIT */
/* A file that is there whole or not at all, whatever interrupts. */
#ifndef NOD_OUTPUT_H
#define NOD_OUTPUT_H

#include <stdbool.h>
#include <stddef.h>

/* Writes bytes to a new file beside `path` and renames it to path, so that a reader
 * finds the old or the new whole. What is no regular file (a device, a FIFO) is
 * written through and stays what it is, a link is followed; "-" is standard output.
 * replace false: what is there already is left alone, and said. Returns an exit
 * status, after saying on stderr what is wrong. */
int nod_output_write(const char *path, const char *bytes, size_t length, bool replace);

#endif
