/* SPDX-License-Identifier: MIT */
/* What the parts of joining two recordings share. */
#ifndef NOD_SESSION_JOIN_INTERNAL_H
#define NOD_SESSION_JOIN_INTERNAL_H

#include "recorder.h"
#include "session-create.h"
#include "session-join.h"

/* Frames that may wait for their twin: more than 30 ms of a full network. */
#define NOD_JOIN_WAITING 1024
/* Marks in which one made twice is looked for: more than a person makes in ten seconds. */
#define NOD_JOIN_MARKS 64

/* A frame of a shared network that the other recording has not delivered yet. */
struct nod_join_waiting {
	struct nod_frame frame; /* on the new session's interface */
	int side;
	bool twin; /* was found */
};

struct nod_join_source {
	struct nod_session *session;
	const struct nod_event *event; /* the next one; NULL: the end */
	nod_time time;                 /* of it, on the first clock */
	int names[NOD_INTERFACES_MAX]; /* its interfaces in the new session; -1: not met yet */
	nod_time from, to;             /* when it ran, on the first clock */
};

struct nod_joiner {
	const struct nod_session_join *join;
	struct nod_session_join_result *result;
	struct nod_error *err;
	struct nod_join_source sources[2];
	struct nod_interfaces names;
	bool shared[NOD_INTERFACES_MAX];
	struct nod_join_waiting waiting[NOD_JOIN_WAITING];
	size_t waiting_first, waiting_count;
	struct { /* the persons' latest marks, to know those made twice */
		uint64_t hash;
		int side;
		int64_t time;
	} marks[NOD_JOIN_MARKS];
	size_t mark_count; /* all that were taken */
	bool has_current;  /* the first recording has samples: those of the second are left out */
	struct nod_session_maker *maker;
	struct nod_recorder *recorder;
	struct nod_file_ops ops;
};

/* The index of an interface in the new session. Negative: an errno. */
int nod_join_name(struct nod_joiner *j, int side, unsigned interface);

/* The frame that a side delivers next, at this time on the first clock. 0 or a negative errno. */
int nod_join_frame(struct nod_joiner *j, int side, nod_time time);

/* Lets go of frames that wait for a twin for too long by now. */
void nod_join_expire(struct nod_joiner *j, nod_time now);

/* True when a recording ran at that time on the first clock. */
bool nod_join_ran(const struct nod_joiner *j, int side, nod_time time);

#endif
