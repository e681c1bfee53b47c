/* SPDX-License-Identifier: MIT */
/* Making a session directory so that it is there whole, or not at all.
 *
 * Everything is written into a directory ".NAME.unfinished-XXXXXX" beside the
 * place where it will be, synced, and renamed. What a crash leaves behind
 * keeps that name and is never taken for a session. */
#ifndef NOD_SESSION_CREATE_H
#define NOD_SESSION_CREATE_H

#include <stdbool.h>

#include "error.h"
#include "file-ops.h"
#include "timestamp.h"

/* What stands in session.txt; see session.h. */
struct nod_session_about {
	const char *title; /* NULL: none */
	nod_time created;  /* NOD_TIME_NONE: not said */
	const char *clock; /* which clock stamped the frames; NULL: not known */
	const char *zone;  /* where it was recorded, for times of day; NULL, "": not known */
};

struct nod_session_maker;

/* Begins a session that will be at `path`, which must not exist. The parent
 * must. ops NULL: the real ones. NULL with errno (EEXIST, ...) and err set. */
struct nod_session_maker *nod_session_begin(const char *path, const struct nod_session_about *about,
					    const struct nod_file_ops *ops, struct nod_error *err);

/* Where a file of the session has to be written meanwhile. Valid until the
 * next call. NULL when memory ran out. */
const char *nod_session_maker_path(struct nod_session_maker *maker, const char *name);

/* Adds a line to session.txt. Errors are told by nod_session_commit(). */
void nod_session_maker_note(struct nod_session_maker *maker, const char *key, const char *value);

/* Copies a file into the session, byte for byte. Returns 0 or a negative errno. */
int nod_session_maker_copy(struct nod_session_maker *maker, const char *from, const char *name,
			   struct nod_error *err);

/* Syncs all files, gives the session its name and frees the maker. Returns 0,
 * or a negative errno with err set: then nothing is there. */
int nod_session_commit(struct nod_session_maker *maker, struct nod_error *err);

/* Removes what was made so far and frees the maker. NULL is accepted. */
void nod_session_abandon(struct nod_session_maker *maker);

/* All in one, for a recording that begins: session.txt, an empty journal and,
 * when `vehicle` is not NULL, a copy of that vehicle file. Returns 0 or a negative errno. */
int nod_session_create(const char *path, const struct nod_session_about *about, const char *vehicle,
		       const struct nod_file_ops *ops, struct nod_error *err);

/* Takes back what nod_session_create() made, when no recording could begin in it: the
 * files it makes, and the directory if nothing else is in it. */
void nod_session_remove_empty(const char *path);

/* True for the name of what a crash left behind. */
bool nod_session_is_unfinished(const char *path);

#endif
