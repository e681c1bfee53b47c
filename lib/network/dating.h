/* SPDX-License-Identifier: MIT */
/* When the hand was really at the fuse: what hangs on it stops at one moment in the middle
 * of its rhythm while others go on, and comes back with the refit. Nobody enters a mark in
 * that second; the traffic has it. Internal to the engine. */
#ifndef NOD_DATING_H
#define NOD_DATING_H

#include <stdbool.h>

#include "journal.h"

struct nod_engine;

/* So late a mark can be. Chosen: nobody remembers longer without saying `--ago`. */
#define NOD_DATING_LATE_NS (180 * NOD_NS_PER_S)

struct nod_dating {
	nod_time time;   /* of the hand, NOD_TIME_NONE: the traffic does not tell */
	unsigned idents; /* so many messages say so */
	bool starved;    /* memory ran out: it might have told */
	bool by_sleep;   /* its network fell asleep: all at once, or after one module, as always */
};

/* Dates a mark "isolated" or "refitted" that is entered at `entered`, which is now, not
 * earlier than `earliest`. */
struct nod_dating nod_dating_of(const struct nod_engine *engine, enum nod_mark_kind kind,
				const char *subject, nod_time entered, nod_time earliest);

#endif
