/* SPDX-License-Identifier: MIT */
/* What one signal of the vehicle file did in a recording: `nodoff history --signal`. */
#ifndef NOD_SIGNAL_WATCH_H
#define NOD_SIGNAL_WATCH_H

#include <jansson.h>

#include "findings.h"
#include "session.h"

/* Changes kept of one signal, the first and the last of them. Chosen: a switch makes a few; of
 * a measured value nobody reads more, and its least and most are kept over all. */
#define NOD_WATCH_FIRST 100
#define NOD_WATCH_LAST 100

/* Messages that may have a signal of the name. */
#define NOD_WATCH_MAX 64

struct nod_signal_change {
	nod_time time;
	uint64_t raw;
};

struct nod_watched {
	const struct nod_message *message;
	const struct nod_signal *signal;
	int network;              /* index of the vehicle's networks */
	uint64_t frames, changes; /* frames that have it; values that differ from the one before */
	uint64_t raw;
	double least, most;
	nod_time last;
	struct nod_signal_change first[NOD_WATCH_FIRST], recent[NOD_WATCH_LAST]; /* a ring */
};

struct nod_signal_watch {
	const char *name; /* of the signal, without case; set by the caller */
	const struct nod_vehicle *vehicle;
	const struct nod_interfaces *interfaces;
	struct nod_watched *watched[NOD_WATCH_MAX]; /* one a message and network it was heard on */
	size_t count;
};

/* Looks the name up. Returns an exit status after saying what is wrong. */
int nod_signal_watch_begin(struct nod_signal_watch *watch, const struct nod_vehicle *vehicle,
			   const struct nod_interfaces *interfaces);

/* Takes a frame at a time of the findings' clock. 0 or -ENOMEM. */
int nod_signal_watch_take(struct nod_signal_watch *watch, const struct nod_frame *frame,
			  nod_time time);

void nod_signal_watch_print(const struct nod_signal_watch *watch, const struct nod_findings *f,
			    FILE *out);
json_t *nod_signal_watch_json(const struct nod_signal_watch *watch, const struct nod_findings *f);

void nod_signal_watch_end(struct nod_signal_watch *watch);

#endif
