/* SPDX-License-Identifier: MIT */
/* When the car is in use: driven, charged or worked on. Then nothing of its sleep can be
 * judged; the settle clock starts when it ends.
 *
 * Told by the engine's or the vehicle's speed (J1939), or, where nothing says when the car was
 * locked, by values that move in many messages at once: in a parked car few have a reason
 * to. */
#ifndef NOD_IN_USE_H
#define NOD_IN_USE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "frame.h"
#include "use.h"

struct nod_engine;
struct nod_span;

/* A speed that frames tell. */
struct nod_use_speed {
	unsigned raw;     /* the latest */
	unsigned frames;  /* in a row that go on from each other */
	unsigned changes; /* of it, in these */
	nod_time since;   /* the first of them */
};

struct nod_in_use {
	struct nod_use_finding *list; /* in time order; the last one grows while `on` */
	size_t count, room;
	bool on;
	int64_t until;   /* ns: without further signs it is over then; INT64_MAX when not on */
	int64_t next;    /* ns: when the messages are looked at again */
	unsigned streak; /* looks in a row at which many values moved */
	nod_time streak_from;
	struct nod_use_speed speed[2]; /* of the vehicle, of the engine */
	bool starved;                  /* memory ran out */
};

void nod_in_use_init(struct nod_in_use *use);
void nod_in_use_clear(struct nod_in_use *use);

/* Looks at what moves; called once in each second with frames. */
void nod_in_use_look(struct nod_engine *engine, nod_time time);

/* True when frames of this ID may say that an engine or a vehicle runs. */
bool nod_in_use_may_tell(uint32_t id);

/* Takes such a frame of the running span of its network, and notes there whether it began in
 * motion, and until when it moved. */
void nod_in_use_take(struct nod_engine *engine, struct nod_span *span,
		     const struct nod_frame *frame);

/* To be called when time has passed `until`. */
void nod_in_use_over(struct nod_engine *engine);

/* The car was locked, somebody says: what moves is no use any more. */
void nod_in_use_locked(struct nod_in_use *use);

#endif
