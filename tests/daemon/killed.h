/* SPDX-License-Identifier: MIT */
/* A recording that is killed at one moment, and what is read of it. */
#ifndef KILLED_H
#define KILLED_H

#include "killed-child.h"

/* When another recording follows. */
#define AGAIN (FEED_START + 60 * NOD_NS_PER_S)

/* What is to be tried, and what the child said up to its end. */
struct moment {
	unsigned seed;
	int number;
	enum way way;
	int message; /* killed after so many */
	int wait_ns;
	int did[DID_KINDS]; /* the last that was said, -1: nothing */
	int last;           /* what was said last */
	char parent[128], path[160];
};

/* What can be read back. */
struct found {
	int events[NOD_EVENT_DEFECT + 1];
	bool started, stopped;
	uint64_t torn;  /* files */
	int again;      /* events of the recording that followed */
	nod_time ended; /* silence up to here */
};

/* Fails and says which moment it was. */
void killed_fail(const struct moment *m, const char *file, int line, const char *what);

#define NEED(condition)                                                 \
	do {                                                            \
		if (!(condition))                                       \
			killed_fail(m, __FILE__, __LINE__, #condition); \
	} while (0)

/* Reads what is there; fails where it is not a beginning of what was fed. */
void killed_read(struct moment *m, const struct feed *feed, struct found *found);

#endif
