/* SPDX-License-Identifier: MIT */
/* How two recordings of one car, by machines with clocks of their own, lie in time.
 *
 * What both heard ties them: a message that a gateway passes on, or that both adapters hear, has
 * the same ID and payload in both. A payload that comes with each cycle or with each turn of a
 * counter ties nothing, it fits at many shifts; so only payloads that something changed to, and
 * that came at most NOD_TIE_TIMES times in each recording, are used. All their pairs of times
 * vote for a shift; the one with most votes is taken when it has enough and any other has few.
 * Drift is the slope over time. Where messages do not suffice, the wake-ups of networks that wake
 * each other do, when they come at no rhythm; where these do not, marks of the same words in
 * both journals tell it to some seconds. */
#ifndef NOD_CLOCK_TIE_H
#define NOD_CLOCK_TIE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "session.h"

/* Chosen: a switch that is worked on twice still counts; more pairs tell less than they cost. */
#define NOD_TIE_TIMES 3

enum nod_tie_state {
	NOD_TIE_BY_FRAMES,
	NOD_TIE_BY_WAKES,   /* networks that a gateway wakes together, to a second */
	NOD_TIE_BY_JOURNAL, /* to some seconds */
	NOD_TIE_AMBIGUOUS,  /* more than one shift fits */
	NOD_TIE_NONE        /* nothing that both recorded ties them */
};

struct nod_tie {
	enum nod_tie_state state;
	/* Of the second clock against the first; only when tied. A time of the second recording
	 * less nod_tie_shift() at it is one of the first. */
	nod_duration offset;       /* at `at` */
	nod_time at;               /* on the second clock: the middle of what ties them */
	double drift_ppm;          /* the second gains so much; 0 when not known */
	double drift_unsure_ppm;   /* either way, 95 %; INFINITY: not known */
	nod_duration unsure;       /* of the offset, either way, 95 % */
	size_t offered;            /* payloads that both had, rarely; or marks */
	double votes, rival;       /* for this shift, and for the next best one */
	nod_duration rival_offset; /* NONE: there is no other */
};

/* What one recording offers. */
struct nod_tie_side;

struct nod_tie_side *nod_tie_side_new(void);
void nod_tie_side_free(struct nod_tie_side *side);

/* Takes an event of the recording, in its order. Returns 0 or -ENOMEM. */
int nod_tie_side_take(struct nod_tie_side *side, const struct nod_event *event);

/* Returns 0 or -ENOMEM. */
int nod_tie_find(struct nod_tie *tie, const struct nod_tie_side *first,
		 const struct nod_tie_side *second);

/* True when an interface of the one and one of the other recording hear the same network: nearly
 * all their IDs are the same, and no other interface's are. */
bool nod_tie_same_network(const struct nod_tie_side *first, unsigned interface,
			  const struct nod_tie_side *second, unsigned other);

/* What to take from a time of the second recording. */
nod_duration nod_tie_shift(const struct nod_tie *tie, nod_time second);

#endif
