/* SPDX-License-Identifier: MIT */
#include "marks.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "engine-internal.h"

int nod_marks_keep(struct nod_engine *engine, const struct nod_mark_finding *mark)
{
	if (engine->mark_count >= NOD_MARKS_MAX) {
		engine->marks_dropped++;
		return -ENOSPC;
	}
	if (engine->mark_count == engine->mark_room) {
		size_t room = engine->mark_room ? engine->mark_room * 2 : 16;
		void *marks = realloc(engine->marks, room * sizeof(*engine->marks));
		if (!marks)
			return -ENOMEM;
		engine->marks = marks;
		engine->mark_room = room;
	}
	char *subject = strdup(mark->subject ? mark->subject : "");
	if (!subject)
		return -ENOMEM;
	engine->marks[engine->mark_count] = *mark;
	engine->marks[engine->mark_count++].subject = subject;
	return 0;
}

/* Moves the last mark to its place by time. Returns the place. */
static size_t sort_in(struct nod_engine *engine)
{
	size_t place = engine->mark_count - 1;
	struct nod_mark_finding mark = engine->marks[place];

	for (; place && engine->marks[place - 1].time.ns > mark.time.ns; place--)
		engine->marks[place] = engine->marks[place - 1];
	engine->marks[place] = mark;
	for (size_t i = 0; i < engine->snapshot_count; i++)
		engine->snapshots[i].mark += engine->snapshots[i].mark >= (int)place;
	for (size_t i = 0; i < engine->touch_count; i++)
		engine->touches[i].mark += engine->touches[i].mark >= (int)place;
	return place;
}

void nod_marks_infer(struct nod_engine *engine, enum nod_mark_kind kind, const char *subject,
		     nod_time time, unsigned idents, unsigned unmapped)
{
	struct nod_mark_finding mark = {.time = time,
					.kind = (int)kind,
					.subject = subject,
					.entered = NOD_TIME_NONE,
					.dated_by = idents,
					.unmapped = unmapped,
					.inferred = true};
	struct nod_snapshot snapshot;

	int status = nod_marks_keep(engine, &mark);
	if (!status) {
		int place = (int)sort_in(engine);
		status = nod_past_take_moment(&engine->past, time, &snapshot)
				 ? nod_snapshot_keep(engine, &snapshot, place)
				 : nod_snapshot_take(engine, place);
		if (nod_engine_disturb(engine, time, kind))
			status = -ENOMEM;
	}
	engine->past.starved |= status == -ENOMEM;
}

const char *nod_marks_part(const struct nod_engine *engine, int fuse, int module)
{
	if (fuse != NOD_NONE)
		return engine->vehicle->fuses[fuse].name;
	return module != NOD_NONE ? engine->vehicle->modules[module].name
				  : "a part that is not in the map";
}

const char *nod_marks_name(const struct nod_engine *engine, const char *subject)
{
	int fuse = NOD_NONE, module = NOD_NONE;

	if (!nod_vehicle_resolve(engine->vehicle, subject, &fuse, &module))
		return NULL;
	return nod_marks_part(engine, fuse, module);
}
