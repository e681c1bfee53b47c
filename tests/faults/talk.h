/* SPDX-License-Identifier: MIT */
/* Talking to nodoffd in this process over its real socket, and giving it frames, in
 * simulated time. */
#ifndef TALK_H
#define TALK_H

#include <limits.h>

#include "daemon.h"
#include "stage.h"

#define START_NS (INT64_C(1700000000) * NOD_NS_PER_S)

struct talk {
	struct nod_options options;
	struct nod_daemon *daemon;
	FILE *out;
	int bus[2], silent_bus[2]; /* ours and the tap's end */
	char socket[96];
	int fd; /* the client's, -1: not connected */
	char buffer[65536];
	size_t length;
	int64_t now;
	unsigned steps, frames, events, noted, connections;
	bool refused, wrong, recording, starved;
	char path[PATH_MAX]; /* of the session */
	nod_time started, stopped;
};

/* What must never be. */
void talk_say_wrong(struct talk *talk, const char *what, const char *more);

/* For libev, which ends the process when it has no memory, by design: it never has none here. */
void *talk_allocate(void *block, long size);

void talk_set_time(struct talk *talk, int64_t ns);

/* The client's side, which never fails. */
void talk_connect(struct talk *talk);
void talk_disconnect(struct talk *talk);

/* The answer, for the caller to release; NULL: cut off, or none came. */
json_t *talk_ask(struct talk *talk, const char *request);

/* Whether it was granted. */
bool talk_ask_for(struct talk *talk, const char *request);

/* Two requests in one piece. */
void talk_ask_for_two(struct talk *talk, const char *requests);

/* Frames that the network brings. */
void talk_send_frames(struct talk *talk, unsigned count);

/* What the timer of the daemon does once a second. */
void talk_let_second_pass(struct talk *talk);

#endif
