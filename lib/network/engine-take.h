/* SPDX-License-Identifier: MIT */
/* What comes into the engine, shared by the files that take it: engine.c (frames, samples,
 * headers), engine-journal.c, engine-clock.c, engine-shift.c, engine-back.c and engine-unheard.c. Those that
 * return something: 0 or -ENOMEM. */
#ifndef NOD_ENGINE_TAKE_H
#define NOD_ENGINE_TAKE_H

#include "engine-internal.h"

/* Moves time on to `time`, and the lock into force when it is reached. */
int nod_engine_reach(struct nod_engine *engine, nod_time time);

/* The lock, from which the settle clock runs. */
int nod_engine_take_lock(struct nod_engine *engine, nod_time time, enum nod_lock_source source);

/* By the settle clock that runs now. */
void nod_engine_set_deadline(struct nod_engine *engine, int network);

/* What a network did before anybody listened is not known: it may have slept and been
 * woken by whoever plugged in the adapter. So the settle clock starts when listening does. */
int nod_engine_begin_listening(struct nod_engine *engine, nod_time time);

/* A mark of the journal. -ERANGE and the like: it is left out. */
int nod_engine_take_mark(struct nod_engine *engine, const struct nod_mark *mark);

/* The clock was set: from here on times are shifted so that they go on. NOD_DURATION_NONE:
 * nothing says how far. */
void nod_engine_take_clock_step(struct nod_engine *engine, nod_time time, nod_duration step);

/* engine-back.c: a frame that came since time ran back, before its track takes it. */
int nod_engine_look_back(struct nod_engine *engine, const struct nod_track *track,
			 const struct nod_frame *frame);

/* Nobody listens on an interface since `from`; NOD_TIME_NONE: somebody does. */
void nod_engine_set_deaf(struct nod_engine *engine, unsigned interface, nod_time from);
/* The same of one interface or NOD_ALL_INTERFACES, with what follows for their networks. */
void nod_engine_take_deaf(struct nod_engine *engine, uint8_t interface, nod_time time);
/* Silence goes on there, but nobody hears it. */
void nod_engine_doubt_deaf_until(struct nod_engine *engine, nod_time until);

/* Frames were lost, nobody listened for a while, something could not be read. */
void nod_engine_take_loss(struct nod_engine *engine, uint8_t interface, uint64_t count);
void nod_engine_take_gap(struct nod_engine *engine, uint8_t interface, nod_time from, nod_time to);
int nod_engine_take_defect(struct nod_engine *engine);

#endif
