/* SPDX-License-Identifier: MIT */
/* The clock of the recording was set: from there on times are shifted so that they go on. */
#include <string.h>

#include "engine-take.h"

/* A mark that says how far the clock was set may come this much later than the first
 * frame stamped since. Chosen: who looks at the clocks does so several times a second. */
#define STEP_TOLD_LATE_NS (2 * NOD_NS_PER_S)

/* True when this step was guessed already, from frames that came before the mark. */
static bool was_guessed(const struct nod_engine *engine, nod_time time, nod_duration step)
{
	return nod_time_is_set(engine->guessed) && step.ns < 0 && step.ns != NOD_DURATION_NONE.ns &&
	       time.ns >= engine->guessed.ns &&
	       nod_time_since(time, engine->guessed).ns < STEP_TOLD_LATE_NS;
}

/* What is to be added to times from here on. */
static int64_t shift_after(const struct nod_engine *engine, nod_time time, nod_duration step)
{
	if (was_guessed(engine, time, step))
		return nod_ns_add(engine->shift_told, -step.ns);
	if (step.ns != NOD_DURATION_NONE.ns)
		return nod_ns_add(engine->shift, -step.ns);
	if (nod_time_is_set(engine->now) && nod_ns_add(time.ns, engine->shift) < engine->now.ns)
		return engine->now.ns - time.ns;
	return engine->shift;
}

void nod_engine_take_clock_step(struct nod_engine *engine, nod_time time, nod_duration step)
{
	bool told = step.ns != NOD_DURATION_NONE.ns;
	int64_t shift = shift_after(engine, time, step);

	engine->clock_steps += !was_guessed(engine, time, step);
	memset(engine->lag, 0, sizeof(engine->lag)); /* the step is for all of them */
	engine->back = (struct nod_engine_back){.open = !told && shift != engine->shift,
						.time = engine->now};
	if (nod_engine_is_possible((nod_time){nod_ns_add(time.ns, shift)})) {
		engine->shift_told = told ? shift : engine->shift;
		engine->guessed = told ? NOD_TIME_NONE : time;
		engine->shift = shift;
	}
	for (size_t i = 0; i < engine->track_room; i++)
		if (engine->tracks[i])
			nod_track_doubt(engine->tracks[i],
					(nod_time){nod_ns_add(time.ns, engine->shift)});
}
