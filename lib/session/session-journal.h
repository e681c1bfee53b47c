/* SPDX-License-Identifier: MIT */
/* The journal of a session, loaded whole: marks may stand in any order. The one place where
 * those that were taken back are left out (session-marks.h), for who reads a journal alone, too. */
#ifndef NOD_SESSION_JOURNAL_H
#define NOD_SESSION_JOURNAL_H

#include "arena.h"
#include "session-marks.h"
#include "session.h"

/* Lines of the journal told one by one; all are counted. */
#define NOD_SESSION_DEFECTS_TOLD 100

/* What could not be read, to be delivered as events. */
struct nod_session_defects {
	struct {
		uint64_t line;
		unsigned column;
		const char *reason;
	} list[NOD_SESSION_DEFECTS_TOLD];
	size_t count, next;
};

/* Loads and sorts it. What cannot be read is told in file and defects. Returns
 * 0 or -ENOMEM. */
int nod_session_journal_load(struct nod_session_marks *marks, struct nod_session_defects *defects,
			     struct nod_session_file *file, struct nod_arena *texts);

#endif
