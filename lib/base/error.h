/* SPDX-License-Identifier: MIT */
/* A message for a person, filled in by the function that failed.
 *
 * Functions of this library report failure as a negative errno (or NULL with
 * errno set); those that take a `struct nod_error *` also leave a sentence
 * that the caller can show as it is. NULL is accepted and means "no message
 * wanted". */
#ifndef NOD_ERROR_H
#define NOD_ERROR_H

#include <stdint.h>

struct nod_error {
	char text[512]; /* UTF-8, no newline at the end, "" when nothing failed */
};

/* Fills in the message, cut to fit. Returns -code (code is a positive errno),
 * so that `return nod_error_set(err, EINVAL, "...")` works. */
__attribute__((format(printf, 3, 4))) int nod_error_set(struct nod_error *err, int code,
							const char *format, ...);

/* The same with a place in front: "FILE:LINE:COLUMN: message". line and
 * column count from 1; a column of 0 is left out. */
__attribute__((format(printf, 6, 7))) int nod_error_at(struct nod_error *err, int code,
						       const char *file, uint64_t line,
						       unsigned long column, const char *format,
						       ...);

#endif
