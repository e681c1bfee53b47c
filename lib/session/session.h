/* SPDX-License-Identifier: MIT */
/* A session: one watch of one parked car, as it lies on disk, read as one
 * stream of events in time order.
 *
 * A session is a directory of append-only files that ordinary tools open:
 *
 *     session.txt             "key: value" lines: nodoff session (version of this form, 1), tool,
 *                             created, title, clock, capture (name, size, SHA-256), note, ...
 *     frames-000001.log.zst   frames, in any form that nod_source_open() reads, in pieces
 *     frames-000002.log.zst   numbered as they follow each other; or just frames.log
 *     frames-b-000001.log     files whose names differ before the number are read side by side
 *                             and merged by time
 *     journal.log             see journal.h
 *     current.log             samples of the battery current: "(SECONDS) 0.430000 A"
 *     vehicle.yaml            the vehicle file it was judged by
 *
 * Any of them may be missing, cut off anywhere or damaged: what can be read is
 * read, what cannot is a defect event and is counted. A last line without its
 * newline is not taken.
 *
 * A bare capture is a session, too: its "# key: value" lines are its journal
 * ("# locked: SECONDS", "# isolated: SECONDS F12"). */
#ifndef NOD_SESSION_H
#define NOD_SESSION_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "error.h"
#include "event.h"
#include "findings.h"
#include "source.h"

/* The form of session.txt and of the directory; a higher one is refused. */
#define NOD_SESSION_FORMAT 1

struct nod_session;

/* Opens a session directory or a bare capture ("-": standard input). NULL with
 * errno and err set: ENOENT etc., EINVAL when it is neither, or holds nothing
 * that can be read, or was never finished (err says which). */
struct nod_session *nod_session_open(const char *path, struct nod_error *err);

/* The same for several captures merged by time; one path may be a directory, and
 * one "-". */
struct nod_session *nod_session_open_all(const char *const *paths, size_t count,
					 struct nod_error *err);

/* The next event, in time order: at equal times the journal first, then the
 * current, then frames. Returns 1 with *event valid until the next call, 0 at
 * the end, or a negative errno with err set when it cannot be read on. Memory
 * grows with the journal only. */
int nod_session_next(struct nod_session *session, const struct nod_event **event,
		     struct nod_error *err);

/* The frames that follow the frame delivered last, as far as they were read and
 * nothing comes between them: for who takes frames by the hundred. Returns their
 * number and counts them as delivered; 0: ask nod_session_next(), as always. Valid
 * until the next call of either. */
size_t nod_session_frames(struct nod_session *session, const struct nod_frame **frames);

/* The names of the interfaces; grows while events are read. */
struct nod_interfaces *nod_session_interfaces(struct nod_session *session);

const char *nod_session_path(const struct nod_session *session);    /* as given (the first) */
const char *nod_session_vehicle(const struct nod_session *session); /* path; NULL: none */

/* Value of a key of session.txt (the last one given) or else of a header of the
 * capture read so far (the first; at most NOD_SESSION_HEADERS are kept). NULL:
 * none. */
const char *nod_session_about(const struct nod_session *session, const char *key);
#define NOD_SESSION_HEADERS 64

/* The lines of session.txt in their order. False when index is beyond them. */
bool nod_session_note(const struct nod_session *session, size_t index, const char **key,
		      const char **value);

/* One file of the session and what was read from it so far. */
struct nod_session_file {
	const char *path;
	const char *form;  /* for people: "candump log, zstd", "journal"; "" when not opened yet */
	const char *fault; /* why it could not be read, or read to its end; NULL: nothing */
	struct nod_source_counts counts; /* of a journal or current: frames = marks */
	bool step_before; /* its first frame is earlier than the last of the piece before; counted
			    * among counts.back_steps */
};
size_t nod_session_file_count(const struct nod_session *session);
const struct nod_session_file *nod_session_file(const struct nod_session *session, size_t index);

/* What time is counted from. */
struct nod_session_lock {
	nod_time time; /* NOD_TIME_NONE: not known yet */
	enum nod_lock_source source;
	nod_time start; /* of the recording: "started", or the first frame or sample */
};

/* From the journal (its last "locked"), else a header, else the start, as far
 * as read: a journal is known from the beginning, a header and the start once
 * the first frame was delivered. */
void nod_session_lock(const struct nod_session *session, struct nod_session_lock *lock);

/* The same without reading on in it: opens, reads up to the first frame,
 * closes. Returns 0 or a negative errno with err set. */
int nod_session_find_lock(const char *path, struct nod_session_lock *lock, struct nod_error *err);

/* "the journal", "a header of the capture", ...: for people. */
const char *nod_session_lock_text(enum nod_lock_source source);

void nod_session_close(struct nod_session *session);

#endif
