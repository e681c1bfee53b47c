/* SPDX-License-Identifier: MIT */
/* current.log of a session, read as events. Used by session.c only. */
#ifndef NOD_SESSION_CURRENT_H
#define NOD_SESSION_CURRENT_H

#include <stdbool.h>

#include "arena.h"
#include "session.h"
#include "text-log.h"

struct nod_session_current {
	struct nod_session_file *file;
	struct nod_text_log *log; /* NULL: there is none, or it is at its end */
	struct nod_arena *texts;
	nod_time last;
	struct nod_event event;
	struct nod_error reason; /* of a defect */
	bool untold;             /* it could not be opened, which is to be a defect */
};

/* Opens it; when that fails the file has a fault and its only event is a defect. 0 or
 * -ENOMEM. */
int nod_session_current_open(struct nod_session_current *current, struct nod_session_file *file,
			     struct nod_arena *texts);

/* The next sample or defect. Returns 1 or 0 at the end. */
int nod_session_current_next(struct nod_session_current *current, const struct nod_event **event);

void nod_session_current_close(struct nod_session_current *current);

#endif
