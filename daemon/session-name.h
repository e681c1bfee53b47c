/* SPDX-License-Identifier: MIT */
/* Names of session directories, and the list of those that are there. */
#ifndef NOD_SESSION_NAME_H
#define NOD_SESSION_NAME_H

#include <jansson.h>
#include <stddef.h>

#include "error.h"
#include "timestamp.h"

/* "SESSIONS/2026-11-25-090713-some-title": the time is local time, for people;
 * characters of the title that do not belong in a file name become '-'. A
 * number follows when that name is taken. Returns 0 or -ENAMETOOLONG. */
int nod_session_name(char *path, size_t size, const char *sessions, const char *title,
		     nod_time now);

/* An array of {"name", "path"} of what is in the directory, by name. NULL with
 * err set when it cannot be read. */
json_t *nod_session_list(const char *sessions, struct nod_error *err);

#endif
