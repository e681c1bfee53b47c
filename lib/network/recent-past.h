/* SPDX-License-Identifier: MIT */
/* What is remembered so that a moment in the past can still be looked at: when messages
 * paused while their network was awake, and how far everything had come every few seconds
 * of the last minutes. Internal to the engine. */
#ifndef NOD_RECENT_PAST_H
#define NOD_RECENT_PAST_H

#include <stdbool.h>

#include "snapshot.h"
#include "track.h"

/* A message is missed when its next frame is over so many of its periods late, and by
 * NOD_MISSED_MIN_NS. Chosen. */
#define NOD_PAUSE_PERIODS 4
/* Before its network fell asleep, it stopped so much earlier than others. Chosen: above
 * what the messages of a network that shuts down together differ by. */
#define NOD_PAUSE_EARLY_NS NOD_NS_PER_S

/* Pauses kept; the oldest make room. Chosen: a night of a car whose forty messages stop one
 * after the other every minute; half a megabyte. */
#define NOD_PAUSES_MAX 16384

/* Moments kept, and how far they are apart: three minutes back. Chosen: nobody enters later
 * than that what he did, and a network-management cycle is shorter. With more messages
 * than this none are kept: no car has so many, and memory is bounded (50 bytes a message
 * and moment). */
#define NOD_MOMENTS 45
#define NOD_MOMENT_EVERY_NS (4 * NOD_NS_PER_S)
#define NOD_MOMENT_IDENTS_MAX 4096

struct nod_pause {
	nod_time from, to; /* the last frame before it, the first one after */
	uint32_t ident;    /* of its network's track */
	uint16_t network;
	bool slept; /* the network fell asleep after `from` and woke up again */
};

struct nod_past {
	struct nod_engine *engine;
	struct nod_pause *pauses; /* a ring */
	size_t pause_count, pause_room, pause_first;
	struct {
		nod_time time;
		struct nod_snapshot snapshot;
	} moments[NOD_MOMENTS]; /* a ring, too: the next one goes to moment_next */
	size_t moment_next;
	nod_time moment_due;
	bool starved; /* memory ran out, something is not remembered: to be told once */
};

void nod_past_init(struct nod_past *past, struct nod_engine *engine);
void nod_past_clear(struct nod_past *past);

/* A frame comes after an interval of more than NOD_MISSED_MIN_NS, or as the first since the
 * network slept (`slept`; `end`: when it fell asleep). Called before the ident knows it. */
void nod_past_note_pause(struct nod_past *past, const struct nod_track *track,
			 const struct nod_ident *ident, nod_time time, bool slept, nod_time end);

/* The pause with this number, from 0: the oldest. */
const struct nod_pause *nod_past_pause(const struct nod_past *past, size_t index);

/* Keeps this moment when it is time for one. */
void nod_past_keep_moment(struct nod_past *past, nod_time time);

/* Gives the latest moment not later than `time` out, for the caller to clear. False when
 * there is none. */
bool nod_past_take_moment(struct nod_past *past, nod_time time, struct nod_snapshot *snapshot);

/* How a message comes, as far as it is known; false when it has no period. */
bool nod_past_period(const struct nod_ident *ident, nod_duration *period);

#endif
