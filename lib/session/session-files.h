/* SPDX-License-Identifier: MIT */
/* Which files a session directory holds. Used by session.c only. */
#ifndef NOD_SESSION_FILES_H
#define NOD_SESSION_FILES_H

#include <stddef.h>

#include "arena.h"
#include "error.h"

/* A file of frames: "frames-b-000012.log.zst" is piece 12 of stream "frames-b". */
struct nod_frames_name {
	const char *path;
	const char *name; /* within path */
	size_t stem;      /* length of the name of the stream */
	unsigned long long number;
};

struct nod_session_listing {
	struct nod_frames_name *frames; /* by stream, then number */
	size_t count;
	const char *about, *journal, *current, *vehicle; /* paths; NULL: not there */
};

/* Lists a directory; paths belong to the arena, the list is freed by the
 * caller with nod_session_listing_free(). Returns 0 or a negative errno with
 * err set. */
int nod_session_listing_read(struct nod_session_listing *listing, const char *directory,
			     struct nod_arena *texts, struct nod_error *err);
void nod_session_listing_free(struct nod_session_listing *listing);

/* Number of files from `first` on that are of one stream. */
size_t nod_session_listing_run(const struct nod_session_listing *listing, size_t first);

#endif
