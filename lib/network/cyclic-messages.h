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
	size_t message;
};

struct nod_cyclic {
	nod_time last;
	nod_duration period;
	int module;  /* of the map, NOD_NONE */
	bool tester; /* a diagnostic tester's: no part of the car */
	int network;
	size_t first, count; /* of its stops */
};

struct nod_cyclics {
	struct nod_cyclic *messages;
	size_t count;
	struct nod_stop *stops; /* by message */
	size_t stop_count;
	bool starved; /* memory ran out */
};

/* What was heard since `earliest`, and the stops since then that are seen by `now`. Periods
 * longer than `slowest` are left out. False (and empty) when memory ran out or there are too
 * many messages. To be cleared. */
bool nod_cyclics_gather(struct nod_cyclics *v, const struct nod_engine *engine, nod_time earliest,
			nod_time now, nod_duration slowest);
void nod_cyclics_clear(struct nod_cyclics *v);

enum nod_cyclic_state { NOD_CYCLIC_SILENT, NOD_CYCLIC_STOPPED, NOD_CYCLIC_ON };

/* What a message did at a moment: it was silent already, its stop can be that moment, or it
 * went on. *stop: that stop (STOPPED). */
enum nod_cyclic_state nod_cyclic_at(const struct nod_cyclics *v, const struct nod_cyclic *message,
				    nod_time moment, const struct nod_stop **stop);

/* True when it was heard well after the moment. */
bool nod_cyclic_is_after(const struct nod_cyclic *message, nod_time moment);

/* True when anything may have stopped in (from, to]: a quick look before a careful one. */
bool nod_cyclics_any_stopped(const struct nod_engine *engine, nod_time from, nod_time to);

#endif
