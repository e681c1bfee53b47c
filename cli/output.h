/* A file that is there whole or not at all, whatever interrupts. */
#ifndef NOD_OUTPUT_H
#define NOD_OUTPUT_H

#include <stdbool.h>
#include <stddef.h>

/* Writes bytes to a new file beside `path` and renames it to path; "-" is
 * standard output. replace false: an existing file is left alone and refused.
 * Returns an exit status, after saying on stderr what is wrong. */
int nod_output_write(const char *path, const char *bytes, size_t length, bool replace);

#endif
