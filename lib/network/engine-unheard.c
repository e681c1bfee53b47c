/* SPDX-License-Identifier: MIT */
/* Where nobody listens, and what was lost or cannot be read. */
#include <errno.h>
#include <stdlib.h>

#include "engine-take.h"

void nod_engine_set_deaf(struct nod_engine *engine, unsigned interface, nod_time from)
{
	engine->deaf_count += nod_time_is_set(from) - nod_time_is_set(engine->deaf[interface]);
	engine->deaf[interface] = from;
}

void nod_engine_doubt_deaf_until(struct nod_engine *engine, nod_time until)
{
	for (unsigned i = 0; i < engine->interfaces->count; i++)
		if (nod_time_is_set(engine->deaf[i]) && engine->track_of[i])
			nod_track_doubt(engine->track_of[i], until);
}

void nod_engine_doubt_deaf(struct nod_engine *engine)
{
	if (engine->deaf_count)
		nod_engine_doubt_deaf_until(engine, engine->now);
}

/* From `time` on, or no more. */
void nod_engine_take_deaf(struct nod_engine *engine, uint8_t interface, nod_time time)
{
	for (unsigned i = 0; i < engine->interfaces->count; i++)
		if (i == interface || interface == NOD_ALL_INTERFACES) {
			nod_engine_set_deaf(engine, i, time);
			if (nod_time_is_set(time) && engine->track_of[i])
				nod_track_unheard(engine->track_of[i], time);
		}
	if (nod_time_is_set(
		    time)) /* no further: that it is over may stand behind what is read ahead */
		nod_engine_doubt_deaf_until(engine, time);
}

void nod_engine_take_loss(struct nod_engine *engine, uint8_t interface, uint64_t count)
{
	for (size_t i = 0; i < engine->track_room; i++)
		if (engine->tracks[i] && (interface == NOD_ALL_INTERFACES ||
					  engine->track_of[interface] == engine->tracks[i]))
			nod_track_lost(engine->tracks[i], count);
}

void nod_engine_take_gap(struct nod_engine *engine, uint8_t interface, nod_time from, nod_time to)
{
	engine->gaps++;
	for (size_t i = 0; i < engine->track_room; i++)
		if (engine->tracks[i] && (interface == NOD_ALL_INTERFACES ||
					  engine->track_of[interface] == engine->tracks[i])) {
			nod_track_unheard(engine->tracks[i], from);
			nod_track_doubt(engine->tracks[i], to);
		}
}

/* Something could not be read: it stood behind the latest frame. */
int nod_engine_take_defect(struct nod_engine *engine)
{
	engine->defects++;
	if (!nod_time_is_set(engine->now) || engine->torn_count == NOD_TORN_MAX ||
	    (engine->torn_count && engine->torn[engine->torn_count - 1].ns == engine->now.ns))
		return 0;
	if (engine->torn_count == engine->torn_room) {
		size_t room = engine->torn_room ? engine->torn_room * 2 : 16;
		nod_time *torn = realloc(engine->torn, room * sizeof(*torn));
		if (!torn)
			return -ENOMEM;
		engine->torn = torn;
		engine->torn_room = room;
	}
	engine->torn[engine->torn_count++] = engine->now;
	return 0;
}
