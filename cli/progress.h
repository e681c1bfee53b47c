/* SPDX-License-Identifier: MIT */
/* Says on the terminal how far a long reading is: on standard error, only when
 * that is a terminal, and only after two seconds. */
#ifndef NOD_PROGRESS_H
#define NOD_PROGRESS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "timestamp.h"

struct nod_progress {
	const char *what; /* "reading car-1" */
	bool terminal, shown;
	uint64_t steps;
	int64_t began_ns, said_ns; /* monotonic */
	nod_time first;
};

void nod_progress_begin(struct nod_progress *progress, const char *what);

/* So many more events, the last at `time` of the recording (may be NONE).
 * Cheap: looks at the clock every few thousand events. */
void nod_progress_step(struct nod_progress *progress, nod_time time, size_t events);

/* Takes the line away again. */
void nod_progress_end(struct nod_progress *progress);

#endif
