/* SPDX-License-Identifier: MIT */
/* A stretch in which the car was in use, as found; network/in-use.h finds it. */
#ifndef NOD_USE_H
#define NOD_USE_H

#include "timestamp.h"

enum nod_use_sign {
	NOD_USE_VALUES, /* many values move */
	NOD_USE_ENGINE, /* the engine runs */
	NOD_USE_SPEED   /* the vehicle moves */
};

struct nod_use_finding {
	nod_time from, to;
	enum nod_use_sign sign;    /* the surest there was */
	unsigned moving, messages; /* VALUES: at most so many of so many moved at a time */
	unsigned speed;            /* ENGINE: highest, 1/min; SPEED: km/h */
};

#endif
