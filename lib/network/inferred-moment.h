/* SPDX-License-Identifier: MIT */
/* What may have been pulled at one moment. Shared by inferred-marks.c and inferred-moment.c. */
#ifndef NOD_INFERRED_MOMENT_H
#define NOD_INFERRED_MOMENT_H

#include "cyclic-messages.h"

/* What may have been pulled, and what its messages did at one moment. */
struct nod_inferred_part {
	int fuse, module; /* one of them NOD_NONE; both: a part that the map does not know */
	unsigned heard, stopped;
	unsigned unmapped; /* stopped then, and nobody's in the map: may hang on it, too */
	bool several;      /* modules that stopped */
	nod_time due;      /* when the first of those that stopped was missed */
	nod_time back;     /* when the first of them spoke again */
	double chance;
};

struct nod_inferred_look {
	struct nod_engine *engine;
	struct nod_cyclics v;
	nod_time moment;
	unsigned population, stopped, went_on;
	unsigned unmapped; /* of those that stopped: nobody's in the map */
};

/* What the part's messages did at the moment, and how likely that is by accident. The look
 * has its own tally already. */
void nod_inferred_tally(struct nod_inferred_look *l, struct nod_inferred_part *u);

/* The likeliest fuse of the module that stopped at l->moment, else the module itself, when a
 * hand was at it. module NOD_NONE: a part that the map does not know. */
bool nod_inferred_find(struct nod_inferred_look *l, int module, struct nod_inferred_part *best);

#endif
