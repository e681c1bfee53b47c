/* SPDX-License-Identifier: MIT */
/* How far apart things that happen again and again are. Not installed. */
#ifndef NOD_INTERVALS_H
#define NOD_INTERVALS_H

#include "findings.h"

/* Times that follow each other, added up; begin with NOD_INTERVALS_NONE. */
struct nod_intervals {
	nod_time first, last; /* NONE: there was none yet */
	size_t count;         /* of the intervals between them */
	nod_duration longest;
	double sum, squares; /* of the intervals, s and s^2 */
};
#define NOD_INTERVALS_NONE ((struct nod_intervals){.first = NOD_TIME_NONE, .last = NOD_TIME_NONE})

/* Times come in order. */
void nod_intervals_add(struct nod_intervals *intervals, nod_time time);

/* Between the wake-ups before `until` that nothing in the journal explains: of all
 * networks (NOD_NONE), or those that one network began. */
struct nod_intervals nod_intervals_of_wakes(const struct nod_findings *f, int network,
					    nod_time until);

/* Intervals that scatter less than this (standard deviation over mean, at least three of
 * them) come by a clock. Chosen. */
#define NOD_INTERVALS_REGULAR 0.25
bool nod_intervals_are_regular(const struct nod_intervals *intervals);

/* The chance that nothing came for so long though the cause is still there, when it came
 * `n` times in the time watched: by nod_chance_none(); by a clock, 1 up to the longest
 * interval and NOD_PROOF_CHANCE at twice that. */
double nod_intervals_chance(const struct nod_intervals *intervals, unsigned n, nod_duration watched,
			    nod_duration silent);

/* The silence at which that is NOD_PROOF_CHANCE. */
nod_duration nod_intervals_silence(const struct nod_intervals *intervals, unsigned n,
				   nod_duration watched);

#endif
