/* SPDX-License-Identifier: MIT */
/* The messages that come at a period, and when each of them stopped in the last minutes: what
 * tells that something lost its power. Internal to the engine. */
#ifndef NOD_CYCLIC_MESSAGES_H
#define NOD_CYCLIC_MESSAGES_H

#include <stdbool.h>
#include <stddef.h>

#include "timestamp.h"

struct nod_engine;

struct nod_stop {
	nod_time from, due, to; /* last frame; when the next was missed; next frame or INT64_MAX */
	size_t voice;
};

struct nod_voice {
	nod_time last;
	nod_duration period;
	int module;  /* of the map, NOD_NONE */
	bool tester; /* a diagnostic tester's: no part of the car */
	int network;
	size_t first, count; /* of its stops */
};

struct nod_voices {
	struct nod_voice *voices;
	size_t count;
	struct nod_stop *stops; /* by voice */
	size_t stop_count;
	bool starved; /* memory ran out */
};

/* What was heard since `earliest`, and the stops since then that are seen by `now`. Periods
 * longer than `slowest` are left out. False (and empty) when memory ran out or there are too
 * many messages. To be cleared. */
bool nod_voices_gather(struct nod_voices *v, const struct nod_engine *engine, nod_time earliest,
		       nod_time now, nod_duration slowest);
void nod_voices_clear(struct nod_voices *v);

enum nod_voice_state { NOD_VOICE_SILENT, NOD_VOICE_STOPPED, NOD_VOICE_ON };

/* What a voice did at a moment: it was silent already, its stop can be that moment, or it
 * went on. *stop: that stop (STOPPED). */
enum nod_voice_state nod_voice_at(const struct nod_voices *v, const struct nod_voice *voice,
				  nod_time moment, const struct nod_stop **stop);

/* True when it was heard well after the moment. */
bool nod_voice_is_after(const struct nod_voice *voice, nod_time moment);

/* True when anything may have stopped in (from, to]: a quick look before a careful one. */
bool nod_voices_any_stopped(const struct nod_engine *engine, nod_time from, nod_time to);

#endif
