/* SPDX-License-Identifier: MIT */
/* A daemon that records one network of 500 kbit/s, can0, while the clock is set, the machine
 * suspended or the adapter pulled out. The daemon's own path; only the kernel is simulated. */
#ifndef MISHAP_H
#define MISHAP_H

#include "../lib/scratch.h"
#include "daemon.h"

#define MS NOD_NS_PER_MS
#define S NOD_NS_PER_S
#define JUMPS 4
#define LOCKED (220 * MS) /* when the car is locked */

/* At a moment of true time the clock is set, or the machine has been suspended. */
struct jump {
	int64_t at, set, suspended;
	int in_calls; /* > 0: within the look at the clocks that follows, after so many calls */
};

/* What happens; to be set before mishap_begin(). */
struct mishap_kernel {
	bool simulated;
	int64_t now, set, suspended; /* true time since the start without suspensions, ns */
	int64_t next, period, last;  /* of the frames */
	struct jump jumps[JUMPS];
	size_t jumped;
};
extern struct mishap_kernel kernel;

struct run {
	struct nod_daemon daemon;
	struct nod_options options;
	struct scratch scratch;
	char socket[96];
};

/* Plugs the adapter in, or pulls it out. */
void mishap_plug(bool in);

/* Starts the daemon and its recording; the adapter is plugged in. */
void mishap_begin(struct run *run);

/* Ticks of 20 ms and seconds of 0.8 s until `end`; a current and two marks. */
void mishap_go_on(struct run *run, int64_t end);

void mishap_mark(struct run *run, enum nod_mark_kind kind, const char *subject);

/* Ends the daemon, removes what it has recorded and frees the run. */
void mishap_finish(struct run *run);

#endif
