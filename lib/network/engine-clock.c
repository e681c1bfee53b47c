/* SPDX-License-Identifier: MIT */
/* The settle clock: when it starts, starts anew, or stands still. */
#include <errno.h>
#include <stdlib.h>

#include "engine-take.h"

/* Listening that began this long after the lock moves the settle clock. Chosen: a deadline
 * of minutes does not change by less. */
#define LATE_START_NS (10 * NOD_NS_PER_S)

void nod_engine_set_deadline(struct nod_engine *engine, int network)
{
	nod_time never = {INT64_MAX};
	nod_time from = engine->clock_count ? engine->clocks[engine->clock_count - 1].time : never;

	engine->deadlines[network] = engine->in_use || !engine->clock_count
					     ? INT64_MAX
					     : nod_engine_deadline(engine, network, from).ns;
}

int nod_engine_start_clock(struct nod_engine *engine, nod_time time, bool in_use,
			   enum nod_mark_kind cause)
{
	if (engine->clock_count == NOD_MARKS_MAX)
		engine->clock_count--; /* what lies between counts as settling: accuses nobody */
	if (engine->clock_count == engine->clock_room) {
		size_t room = engine->clock_room ? engine->clock_room * 2 : 16;
		void *clocks = realloc(engine->clocks, room * sizeof(*engine->clocks));
		if (!clocks)
			return -ENOMEM;
		engine->clocks = clocks;
		engine->clock_room = room;
	}
	engine->clocks[engine->clock_count++] = (struct nod_clock_start){time, in_use, cause};
	engine->in_use = in_use;
	for (size_t i = 0; i < engine->vehicle->network_count && i < 256; i++)
		nod_engine_set_deadline(engine, (int)i);
	return 0;
}

int nod_engine_take_lock(struct nod_engine *engine, nod_time time, enum nod_lock_source source)
{
	engine->lock = time;
	engine->lock_source = source;
	engine->clock_count = 0;
	nod_in_use_locked(&engine->use);
	for (size_t i = 0; i < engine->track_room; i++)
		if (engine->tracks[i])
			nod_track_locked(engine->tracks[i], time);
	return nod_engine_start_clock(engine, time, false, NOD_MARK_LOCKED);
}

int nod_engine_begin_listening(struct nod_engine *engine, nod_time time)
{
	if (engine->listening)
		return 0;
	engine->listening = true;
	if (!engine->clock_count || engine->in_use ||
	    time.ns - engine->clocks[engine->clock_count - 1].time.ns <= LATE_START_NS)
		return 0;
	engine->late_start = time;
	return nod_engine_start_clock(engine, time, false, NOD_MARK_STARTED);
}

int nod_engine_disturb(struct nod_engine *engine, nod_time time, enum nod_mark_kind kind)
{
	if (engine->in_use || !engine->clock_count ||
	    time.ns < engine->clocks[engine->clock_count - 1].time.ns)
		return 0;
	return nod_engine_start_clock(engine, time, false, kind);
}
