/* SPDX-License-Identifier: MIT */
/* The current logger's clock against the clock of the frames.
 *
 * When a network falls asleep the current falls, when it wakes it rises. The
 * offset is the shift at which the steps of the current meet these
 * transitions; every other shift that the recording does not contradict makes
 * the answer "not determined", for instance one period more or less when the
 * car does nothing but wake at a period. What lies outside the other recording
 * speaks neither for nor against a shift.
 *
 * One constant offset is assumed: clocks that run apart by 50 parts in a
 * million differ by 4 s after a day. Pure functions; nothing to free. */
#ifndef NOD_CLOCK_OFFSET_H
#define NOD_CLOCK_OFFSET_H

#include <stdbool.h>
#include <stddef.h>

#include "current-trace.h"
#include "timestamp.h"

/* More are not used: the largest steps and the earliest transitions are.
 * Bounds the time to about a third of a second. */
#define NOD_OFFSET_STEPS 256
#define NOD_OFFSET_TRANSITIONS 512

/* Steps that must meet transitions. Chosen: two give one distance, and one
 * distance is met by chance too easily. */
#define NOD_OFFSET_LEAST_MATCHES 3

/* A change of the current, on the logger's clock. */
struct nod_offset_step {
	nod_time time;
	nod_duration unsure; /* either way */
	double change_ua;
};

/* A network fell asleep (its last frame) or woke (its first), on the clock of
 * the frames. */
struct nod_transition {
	nod_time time;
	int network;
	bool wakes;
};

enum nod_offset_state {
	NOD_OFFSET_FOUND,
	NOD_OFFSET_TOO_LITTLE, /* too few steps or transitions */
	NOD_OFFSET_NO_MATCH,   /* no shift makes them meet */
	NOD_OFFSET_AMBIGUOUS   /* more than one does */
};

struct nod_clock_offset {
	enum nod_offset_state state;
	nod_duration offset;       /* to add to a time of the logger; NONE unless found */
	nod_duration uncertainty;  /* either way, about 95 % */
	size_t steps, transitions; /* offered */
	size_t matched;            /* steps that meet a transition at the best shift */
	nod_duration rival;        /* the other shift when ambiguous, else NONE */
	char reason[256];          /* one sentence for a person */
};

/* The recording of the frames went from bus_from to bus_to, the logger's from
 * log_from to log_to (each on its own clock). Steps and transitions in time
 * order. Returns 0 (see state) or -ENOMEM. */
int nod_clock_offset_find(struct nod_clock_offset *result, const struct nod_offset_step *steps,
			  size_t step_count, nod_time log_from, nod_time log_to,
			  const struct nod_transition *transitions, size_t transition_count,
			  nod_time bus_from, nod_time bus_to);

/* All changes of a trace, the edges of its pulses included, zeroing left out,
 * in time order; at most `room` (the largest). Returns how many. */
size_t nod_offset_steps_collect(struct nod_offset_step *steps, size_t room,
				const struct nod_current_findings *findings);

#endif
