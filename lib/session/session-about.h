/* SPDX-License-Identifier: MIT */
/* session.txt: "key: value" lines. */
#ifndef NOD_SESSION_ABOUT_H
#define NOD_SESSION_ABOUT_H

#include <stddef.h>

#include "arena.h"
#include "session.h"

struct nod_session_notes {
	struct {
		const char *key, *value;
	} * list;
	size_t count;
};

/* Adds a note; the texts are copied into the arena. Returns 0 or -ENOMEM. */
int nod_session_notes_add(struct nod_session_notes *notes, const char *key, const char *value,
			  struct nod_arena *texts);

/* Reads session.txt; lines that are none are counted in file->counts.defects.
 * Returns 0 or a negative errno with err set: ENOMEM, or EINVAL when the
 * session is of a later form than this program knows. */
int nod_session_notes_read(struct nod_session_notes *notes, struct nod_session_file *file,
			   struct nod_arena *texts, struct nod_error *err);

/* The value of a key (the last one given), or NULL. */
const char *nod_session_notes_find(const struct nod_session_notes *notes, const char *key);

/* What a recording adds when it ends, so that a list of recordings can say it without reading
 * them: what was found then. */
struct nod_session_end {
	nod_time time;
	uint64_t frames;
	const char *verdict, *sentence;
};

/* Adds it to the session.txt of a directory. Returns 0 or a negative errno. */
int nod_session_note_end(const char *directory, const struct nod_session_end *end);

void nod_session_notes_free(struct nod_session_notes *notes);

#endif
