/* SPDX-License-Identifier: MIT */
/* A recorded current named on a command line: a session's current.log, or the
 * session itself with its journal. */
#ifndef NOD_CURRENT_FILE_H
#define NOD_CURRENT_FILE_H

#include "current-trace.h"

struct nod_current_file {
	struct nod_current_trace *trace;
	nod_time lock;        /* from the journal, the last "locked"; NOD_TIME_NONE */
	nod_time first, last; /* of the samples; NOD_TIME_NONE */
	unsigned long defects;
};

/* Reads it; lines that cannot be read are told on stderr. Returns an exit
 * status; on NOD_EXIT_OK free it. */
int nod_current_file_load(struct nod_current_file *file, const char *path);

/* Only the lock of a session's journal; NOD_TIME_NONE without one. */
nod_time nod_current_file_lock(const char *session);

void nod_current_file_free(struct nod_current_file *file);

#endif
