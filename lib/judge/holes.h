/* SPDX-License-Identifier: MIT */
/* How likely a silence was sleep. Internal to the judging; see holes.c. */
#ifndef NOD_HOLES_H
#define NOD_HOLES_H

#include "analysis.h"

/* Sleep and wake-ups are claimed from this probability on. Chosen: clues are few where few
 * speak, and then a silence is sleep as a rule. */
#define NOD_SLEEP_CLAIMED 0.6

struct nod_silence_odds {
	double fell_asleep; /* the network went to sleep at its begin */
	double woke;        /* ... woke at its end */
	double whole;       /* ... and was listened to throughout */
};

/* fade, boot, kept: how it began and ended, log-odds as in struct nod_silence_clues, added up. */
struct nod_silence_odds nod_silence_weigh(const struct nod_analysis *a, double fade, double boot,
					  double kept);

/* holes-say.c: the sentence for a hole. */
const char *nod_hole_text(struct nod_analysis *a, const struct nod_hole_finding *hole, bool returns,
			  double fade, double boot);

#endif
