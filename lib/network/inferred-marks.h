/* SPDX-License-Identifier: MIT */
/* What somebody pulled or put back without a word, seen in the traffic: several messages stop
 * at one moment in the middle of their rhythm while others go on, they are what the map says
 * hangs on one fuse, and they come back together. Internal to the engine.
 *
 * What is seen so becomes a mark that nobody entered (`inferred`), so that it is judged like
 * any; one that is entered later claims it. Looked for a few seconds later, when it is
 * clear who went on, and only with messages that are quick enough for that.
 *
 * That modules stop is a hand's doing only where they do not leave by themselves: on a network
 * that has been awake for long, and past its deadline, or while somebody pulls one fuse after
 * the other. One module alone must never have paused before, and nobody else may have left
 * in the minutes before. */
#ifndef NOD_INFERRED_MARKS_H
#define NOD_INFERRED_MARKS_H

#include "findings.h"
#include "journal.h"

struct nod_engine;

/* A moment is looked at so much later, and messages of up to this period are asked. Chosen:
 * above four periods of them, so that none is missed by accident. */
#define NOD_INFERRED_LATER_NS (12 * NOD_NS_PER_S)
#define NOD_INFERRED_SLOWEST_NS (2500 * NOD_NS_PER_MS)

/* Looks at what was not looked at yet, up to NOD_INFERRED_LATER_NS before `now`. Called before
 * anything of `now` is taken, once a second is enough. */
void nod_inferred_look(struct nod_engine *engine, nod_time now);

/* The mark that nobody entered and that this one means: it is this one's from here on,
 * with another name when what stopped is something else. False: there is none. */
bool nod_inferred_claim(struct nod_engine *engine, const struct nod_mark *mark, nod_time entered);

#endif
