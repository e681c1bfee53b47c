/* SPDX-License-Identifier: MIT */
/* How regularly one message comes, as found. period.c works it out. */
#ifndef NOD_RHYTHM_H
#define NOD_RHYTHM_H

#include "timestamp.h"

enum nod_rhythm {
	NOD_RHYTHM_UNKNOWN, /* too few intervals */
	NOD_RHYTHM_CYCLIC,  /* comes at its period */
	NOD_RHYTHM_MIXED,   /* mostly at its period, with more in between */
	NOD_RHYTHM_ON_EVENT /* no period */
};

struct nod_period {
	enum nod_rhythm rhythm;
	nod_duration period; /* median interval; NOD_DURATION_NONE when unknown */
	nod_duration jitter; /* robust standard deviation: 1.4826 * median absolute deviation */
};

/* Two recordings' periods of a message differ from this ratio on. Chosen: jitter and load move
 * one by a few per cent, a module that does not slow down for parking by half or more. */
#define NOD_PERIOD_RATIO 1.5

/* The word for a rhythm: "cyclic", "cyclic with events", "on event", "?". */
const char *nod_rhythm_name(enum nod_rhythm rhythm);

#endif
