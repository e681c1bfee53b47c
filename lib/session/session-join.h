/* SPDX-License-Identifier: MIT */
/* Two recordings of one car put into one session, on the clock of the first. */
#ifndef NOD_SESSION_JOIN_H
#define NOD_SESSION_JOIN_H

#include "error.h"
#include "clock-tie.h"

struct nod_session_join {
	const char *paths[2], *title;        /* title NULL: that of the first */
	const struct nod_tie *tie;           /* one that was found */
	const struct nod_tie_side *sides[2]; /* to see which interfaces hear the same network */
	nod_time start[2], end[2];           /* of each recording, on its own clock */
};

struct nod_session_join_result {
	uint64_t frames, marks, samples; /* in the new session */
	unsigned shared;                 /* networks that both hear */
	uint64_t heard_by_both;          /* frames of these, kept once */
	uint64_t only[2]; /* frames of these that only the first, only the second has */
	uint64_t filled;  /* losses and gaps of one that the other one listened through */
};

/* Makes the new session at `into`, which must not exist, whole or not at all. Interfaces of the
 * second keep their names unless the first has one of that name (then "-2" is added) or hears the
 * same network (then they are one, and every frame is there once). Where only one of them ran, the
 * journal says that nobody listened to the other's networks. Returns 0 or a negative errno with
 * err set. */
int nod_session_join(const struct nod_session_join *join, const char *into,
		     struct nod_session_join_result *result, struct nod_error *err);

#endif
