/* SPDX-License-Identifier: MIT */
/* SHA-256 (FIPS 180-4) of a file, to say which capture a session was made from. */
#ifndef NOD_DIGEST_H
#define NOD_DIGEST_H

#include <stddef.h>

#include "error.h"

#define NOD_DIGEST_TEXT 65

/* Lower-case hex digits of the digest of a file's bytes. Returns 0 or a
 * negative errno with err set. */
int nod_digest_file(char text[NOD_DIGEST_TEXT], const char *path, struct nod_error *err);

/* The same of bytes in memory. */
void nod_digest_bytes(char text[NOD_DIGEST_TEXT], const void *bytes, size_t length);

#endif
