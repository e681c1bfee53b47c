/* SPDX-License-Identifier: MIT */
/* Cuts a piece out of a session into a new, smaller one that still shows the
 * fault: frames, current and journal together, with the vehicle file.
 *
 * The lock mark goes along even when it lies outside the piece, with a "gap all"
 * mark for the time between, so that what was left out is not taken for
 * silence. session.txt says what was done. */
#ifndef NOD_SESSION_CUT_H
#define NOD_SESSION_CUT_H

#include "error.h"
#include "scrub.h"
#include "session-survey.h"

struct nod_session_cut {
	nod_time from, to; /* both included; from <= to */
	enum nod_scrub_kind scrub;
	const char *title; /* NULL: that of the session it is cut from */
	/* Called for every event read, to show progress; true: stop, with -EINTR.
	 * NULL: not wanted. */
	bool (*step)(void *context, nod_time time);
	void *context;
};

struct nod_session_cut_result {
	uint64_t frames, samples, marks; /* in the new session */
	uint64_t marks_left_out;
	uint64_t scrubbed; /* frames that were changed */
	bool lock_outside; /* the lock time lies outside the piece */
	bool lock_assumed; /* nothing said when; the start of the old session was taken */
};

/* `survey` is that of the session at `path`, read to its end. The new session is
 * made at `into`, which must not exist, whole or not at all. Returns 0 or a
 * negative errno with err set (ERANGE: nothing was recorded in that time). */
int nod_session_cut(const char *path, const struct nod_survey *survey, const char *into,
		    const struct nod_session_cut *cut, struct nod_session_cut_result *result,
		    struct nod_error *err);

#endif
