/* SPDX-License-Identifier: MIT */
/* Time ran back in a recording, and nothing says by how much the clock was set. Was it only the
 * clock, while the traffic went on? Then each message is one of its periods away from its last
 * time, all of them by the same amount too early or late: the time that passed while the clock was
 * set. Where they come at any moment of their periods, nobody knows how long it was: another
 * recording in the same file, or the clock was set while nobody spoke. Then what was awake before
 * and after are two, and the settle clock starts anew. */
#include <math.h>
#include <string.h>

#include "engine-take.h"
#include "robust.h"

/* Messages that are asked: of this period, faster than which their jitter tells nothing, and
 * slower than which they are too long in coming. Chosen. */
#define FASTEST_NS (50 * NOD_NS_PER_MS)
#define SLOWEST_NS (2 * NOD_NS_PER_S)

/* Of so many at least two thirds agree within a tenth of their periods; of fewer nobody knows, and
 * it was the clock. By chance one in five does. Chosen. */
#define LEAST 6
#define ALIKE_SHARE 0.1

static bool is_heard_first(const struct nod_engine *engine, const struct nod_ident *ident)
{
	return ident && nod_time_is_set(ident->last) && ident->last.ns < engine->back.time.ns;
}

/* A message that comes for the first time since: how much before its turn. */
static void note(struct nod_engine_back *back, const struct nod_ident *ident, nod_time time)
{
	struct nod_period period = nod_ident_period(ident);

	if (period.rhythm != NOD_RHYTHM_CYCLIC || period.period.ns < FASTEST_NS ||
	    period.period.ns > SLOWEST_NS)
		return;
	back->periods[back->count] = (double)period.period.ns;
	back->early[back->count++] = (double)period.period.ns -
				     (double)nod_time_since(time, ident->last).ns;
}

static bool went_on(const struct nod_engine_back *back)
{
	double sorted[NOD_BACK_MESSAGES];
	unsigned alike = 0;

	if (back->count < LEAST)
		return true;
	memcpy(sorted, back->early, back->count * sizeof(sorted[0]));
	double middle = nod_median(sorted, back->count);
	for (unsigned i = 0; i < back->count; i++)
		alike += fabs(back->early[i] - middle) <= ALIKE_SHARE * back->periods[i];
	return 3 * alike >= 2 * back->count;
}

/* What comes next is another awake span, after a silence of which nothing is known. */
static void part(struct nod_track *track, nod_time now)
{
	int64_t quiet_since = now.ns - track->quiet.ns;

	nod_track_doubt(track, now);
	track->last.ns = track->last.ns < quiet_since ? track->last.ns : quiet_since;
}

static int decide(struct nod_engine *engine)
{
	engine->back.open = false;
	if (went_on(&engine->back))
		return 0;
	engine->restarts++;
	for (size_t i = 0; i < engine->track_room; i++)
		if (engine->tracks[i])
			part(engine->tracks[i], engine->now);
	return engine->in_use || !engine->clock_count
		       ? 0
		       : nod_engine_start_clock(engine, engine->now, false, NOD_MARK_STARTED);
}

int nod_engine_look_back(struct nod_engine *engine, const struct nod_track *track,
			 const struct nod_frame *frame)
{
	struct nod_engine_back *back = &engine->back;
	const struct nod_ident *ident = nod_idents_known(&track->idents, nod_frame_id(frame));

	if (nod_time_since(frame->time, back->time).ns > SLOWEST_NS)
		return decide(engine);
	if (is_heard_first(engine, ident))
		note(back, ident, frame->time);
	return back->count == NOD_BACK_MESSAGES ? decide(engine) : 0;
}
