/* SPDX-License-Identifier: MIT */
/* Pieces of work side by side, each in a process of its own: a crash in one is a result like any
 * other, and no memory is shared. */
#ifndef NOD_JOBS_H
#define NOD_JOBS_H

#include <stdbool.h>
#include <stddef.h>

struct nod_jobs {
	size_t count;  /* pieces */
	unsigned most; /* at a time, at least 1 */
	const char
		*name; /* what a terminal is told before "3 of 16", with a blank; NULL: nothing */
	/* before the process of a piece is started; NULL: nothing to do. An exit status. */
	int (*prepare)(void *context, size_t piece);
	/* in that process, which it ends */
	void (*work)(void *context, size_t piece);
	/* the process has ended with this status, of wait(2). An exit status. */
	int (*finish)(void *context, size_t piece, int status);
	bool (*is_enough)(void); /* no further piece is begun; NULL: all are */
	void *context;
};

/* Does all of them. A status that is not NOD_EXIT_OK ends it: nobody is left behind. Returns an
 * exit status, and in *done, unless NULL, how many pieces were finished. */
int nod_jobs_run(const struct nod_jobs *jobs, size_t *done);

#endif
