/* SPDX-License-Identifier: MIT */
/* The session's own parts; included by session*.c and by no one else. */
#ifndef NOD_SESSION_PRIVATE_H
#define NOD_SESSION_PRIVATE_H

#include "session-about.h"
#include "session-current.h"
#include "session-files.h"
#include "session-journal.h"
#include "session-stream.h"
#include "session.h"

enum { LANE_JOURNAL, LANE_CURRENT, LANE_STREAMS };

/* Something that has an event ready, or asks for its next one. */
struct lane {
	const struct nod_event *event; /* NULL: to be asked for */
	bool ended;
	nod_time at;         /* the event's place in its epoch */
	unsigned epoch;      /* how often the clock was set before the event */
	unsigned steps_told; /* "# clock-step" lines of the recording itself */
	nod_time last;
};

struct nod_session {
	const char *path, *vehicle;
	struct nod_arena texts;
	struct nod_interfaces interfaces;
	struct nod_session_notes notes, headers;
	struct nod_session_file *files;
	size_t file_count;
	struct nod_session_marks marks;
	struct nod_session_file *journal;    /* NULL: there is none */
	struct nod_session_defects *defects; /* of the journal */
	struct nod_session_current current;
	struct nod_session_stream *streams;
	struct lane *lanes; /* LANE_STREAMS + stream_count */
	size_t stream_count;
	size_t delivered;            /* lane whose event was delivered last; SIZE_MAX: none */
	struct nod_event mark;       /* what the journal's lane delivers */
	nod_time header_lock, first; /* first: frame or sample */
};

/* Finds out what is at the paths and sets up the lanes. Returns 0 or a
 * negative errno with err set. */
int nod_session_set_up(struct nod_session *session, const char *const *paths, size_t count,
		       struct nod_error *err);

#endif
