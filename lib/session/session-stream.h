/* SPDX-License-Identifier: MIT */
/* The frames of a session that were recorded one after another: the pieces of
 * one recording, read as one stream. Used by session.c only. */
#ifndef NOD_SESSION_STREAM_H
#define NOD_SESSION_STREAM_H

#include "arena.h"
#include "read-ahead.h"
#include "session.h"

struct nod_session_stream {
	struct nod_session_file *pieces; /* in the order of recording */
	size_t count, current;
	struct nod_read_ahead *source; /* of pieces[current]; NULL: not opened yet */
	struct nod_batch batch;        /* what of it was not delivered yet */
	enum nod_read_ahead_by by;
	struct nod_interfaces *interfaces;
	struct nod_arena *texts; /* for faults and forms */
	nod_time last;           /* of the last frame, in all pieces */
	bool fresh;              /* no frame of the current piece yet */
	struct nod_event own;    /* an event of the stream itself, or a copy of one */
};

/* alone: no other stream adds to `interfaces`, so a thread may read ahead. */
void nod_session_stream_init(struct nod_session_stream *stream, struct nod_session_file *pieces,
			     size_t count, bool alone, struct nod_interfaces *interfaces,
			     struct nod_arena *texts);

/* Opens the first piece now, so that a bare capture that is none is refused.
 * Returns 0 or a negative errno with err set. */
int nod_session_stream_open(struct nod_session_stream *stream, struct nod_error *err);

/* The next event; a piece that cannot be opened or read on is a defect event,
 * and the next piece follows. Returns 1, 0 at the end or -ENOMEM with err set. */
int nod_session_stream_next(struct nod_session_stream *stream, const struct nod_event **event,
			    struct nod_error *err);

/* The frames that come next in this piece, as far as they were read: their
 * number, maybe 0; nod_session_stream_take() delivers the first `count` of them. */
static inline size_t nod_session_stream_frames(const struct nod_session_stream *stream,
					       const struct nod_frame **frames)
{
	*frames = stream->batch.frames;
	return stream->batch.count;
}
void nod_session_stream_take(struct nod_session_stream *stream, size_t count);

/* Brings the counts of the piece being read up to date. */
void nod_session_stream_count(struct nod_session_stream *stream);

void nod_session_stream_close(struct nod_session_stream *stream);

#endif
