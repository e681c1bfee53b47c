/* SPDX-License-Identifier: MIT */
#include "engine-take.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "current-trace.h"
#include "inferred-marks.h"
#include "snapshot.h"

/* A frame this much earlier than what came before it is not the recorder's
 * merging (tens of milliseconds) but a clock that was set back. Chosen. */
#define CLOCK_SET_BACK_NS (2 * NOD_NS_PER_S)

struct nod_engine *nod_engine_new(struct nod_vehicle *vehicle,
				  const struct nod_interfaces *interfaces)
{
	struct nod_engine *engine = calloc(1, sizeof(*engine));

	if (!engine)
		return NULL;
	engine->vehicle_given = vehicle != NULL;
	engine->vehicle_owned = vehicle == NULL;
	engine->vehicle = vehicle ? vehicle : nod_vehicle_new();
	engine->interfaces = interfaces;
	engine->start = engine->now = engine->lock = engine->guessed = NOD_TIME_NONE;
	engine->ended = NOD_TIME_NONE;
	engine->lagging = NOD_NONE;
	engine->late_start = NOD_TIME_NONE;
	nod_past_init(&engine->past, engine);
	nod_in_use_init(&engine->use);
	engine->inferred_until = NOD_TIME_NONE;
	for (size_t i = 0; i < 256; i++)
		engine->deaf[i] = NOD_TIME_NONE;
	if (!engine->vehicle) {
		free(engine);
		return NULL;
	}
	return engine;
}

void nod_engine_free(struct nod_engine *engine)
{
	if (!engine)
		return;
	for (size_t i = 0; i < engine->track_room; i++) {
		if (engine->tracks[i])
			nod_track_clear(engine->tracks[i]);
		free(engine->tracks[i]);
	}
	free(engine->tracks);
	free(engine->clocks);
	free(engine->torn);
	nod_in_use_clear(&engine->use);
	for (size_t i = 0; i < engine->mark_count; i++)
		free((char *)engine->marks[i].subject);
	free(engine->marks);
	nod_snapshots_clear(engine);
	nod_past_clear(&engine->past);
	nod_current_trace_free(engine->current);
	if (engine->vehicle_owned)
		nod_vehicle_free(engine->vehicle);
	free(engine);
}

void nod_engine_set_lock(struct nod_engine *engine, nod_time lock, enum nod_lock_source source)
{
	engine->lock = lock;
	engine->lock_source = source;
	engine->in_use = true; /* until its time has come */
}

void nod_engine_set_good(struct nod_engine *engine, const struct nod_findings *good)
{
	engine->good = good;
}

void nod_engine_set_known(struct nod_engine *engine, const struct nod_known *known)
{
	engine->known = known;
}

int nod_engine_add_earlier(struct nod_engine *engine, const struct nod_findings *earlier)
{
	if (engine->earlier_count == NOD_EARLIER_MAX)
		return -ENOSPC;
	engine->earlier[engine->earlier_count++] = earlier;
	return 0;
}

/* A merged recording's second network may begin a little before the first. */
static void begin_earlier(struct nod_engine *engine, nod_time time)
{
	if (engine->lock_source == NOD_LOCK_FROM_START && engine->lock.ns == engine->start.ns) {
		engine->lock = time;
		if (engine->clock_count == 1)
			engine->clocks[0].time = time;
	}
	engine->start = time;
}

int nod_engine_reach(struct nod_engine *engine, nod_time time)
{
	if (!nod_time_is_set(engine->start)) {
		engine->start = time;
		if (!nod_time_is_set(engine->lock))
			engine->lock = time;
	}
	if (!engine->listened && time.ns < engine->start.ns &&
	    engine->start.ns - time.ns < CLOCK_SET_BACK_NS)
		begin_earlier(engine, time);
	if (time.ns > engine->now.ns)
		engine->now = time;
	if (engine->deaf_count)
		nod_engine_doubt_deaf_until(engine, time);
	if (engine->now.ns > engine->use.until)
		nod_in_use_over(engine);
	if (engine->touches_open)
		nod_touches_look(engine, engine->now);
	if (!engine->clock_count && engine->now.ns >= engine->lock.ns)
		return nod_engine_take_lock(engine, engine->lock, engine->lock_source);
	return 0;
}

/* ---- networks ---- */

static int add_track(struct nod_engine *engine, int network)
{
	size_t needed = (size_t)network + 1;

	if (needed > engine->track_room) {
		struct nod_track **tracks = realloc(engine->tracks,
						    needed * sizeof(struct nod_track *));
		if (!tracks)
			return -ENOMEM;
		for (size_t i = engine->track_room; i < needed; i++)
			tracks[i] = NULL;
		engine->tracks = tracks;
		engine->track_room = needed;
	}
	if (engine->tracks[network])
		return 0;
	struct nod_track *track = malloc(sizeof(*track));
	if (!track)
		return -ENOMEM;
	if (nod_track_init(track, network, engine->vehicle)) {
		free(track);
		return -ENOMEM;
	}
	track->idents.all = &engine->ident_count;
	track->past = &engine->past;
	track->engine = engine;
	engine->tracks[network] = track;
	if (engine->clock_count)
		nod_track_locked(track, engine->lock);
	return 0;
}

/* Looks up the network an interface belongs to; made when no network claims it. Returns 0
 * or a negative errno. */
static int find_track(struct nod_engine *engine, uint8_t interface)
{
	const char *name = interface < engine->interfaces->count
				   ? engine->interfaces->names[interface]
				   : "?";
	int network = nod_vehicle_network_of_interface(engine->vehicle, name);
	if (network == NOD_NONE)
		network = nod_vehicle_add_network(engine->vehicle, name, name);
	if (network < 0 || network > 255)
		return network < 0 ? network : -ENOSPC;
	int status = add_track(engine, network);
	if (status)
		return status;
	nod_engine_set_deadline(engine, network);
	engine->track_of[interface] = engine->tracks[network];
	return 0;
}

/* ---- what comes in ---- */

static int take_frame(struct nod_engine *engine, const struct nod_frame *given)
{
	struct nod_frame shifted;
	const struct nod_frame *frame = given;

	if (engine->shift || engine->lag[given->interface]) {
		shifted = *given;
		shifted.time.ns += engine->shift + engine->lag[given->interface];
		frame = &shifted;
	}
	int status = nod_engine_reach(engine, frame->time);
	if (status)
		return status;
	if (!engine->listening)
		status = nod_engine_begin_listening(engine, frame->time);
	if (!status && !engine->track_of[frame->interface])
		status = find_track(engine, frame->interface);
	if (status)
		return status;
	struct nod_track *track = engine->track_of[frame->interface];
	nod_engine_set_deaf(engine, frame->interface, NOD_TIME_NONE);
	engine->frames++;
	if (engine->back.open && nod_engine_look_back(engine, track, frame))
		return -ENOMEM;
	return nod_track_take(track, frame, nod_engine_phase(engine, track->network, frame->time));
}

/* Adapters with stamps of their own in one log: one is behind the others, but goes on by its own
 * clock, where a clock that was set goes back for all. Its times are moved to those of the others
 * from here on. */
static bool is_behind(struct nod_engine *engine, const struct nod_frame *frame, int64_t time)
{
	const struct nod_track *own = engine->track_of[frame->interface];

	if (own ? time < own->last.ns : !engine->frames)
		return false;
	engine->lag[frame->interface] += engine->now.ns - time;
	if (engine->lagging == NOD_NONE ||
	    engine->lag[frame->interface] > engine->lag[engine->lagging])
		engine->lagging = frame->interface;
	return true;
}

static int take_frame_checking_clock(struct nod_engine *engine, const struct nod_frame *frame)
{
	int64_t time = frame->time.ns + engine->shift + engine->lag[frame->interface];

	if (nod_time_is_set(engine->now) && time < engine->now.ns) {
		engine->back_steps++;
		if (engine->now.ns - time > CLOCK_SET_BACK_NS && !is_behind(engine, frame, time))
			nod_engine_take_clock_step(engine, frame->time, NOD_DURATION_NONE);
	}
	return take_frame(engine, frame);
}

/* A sample says nothing about what the networks did meanwhile: the logger may
 * run on another clock, and does not listen. Time does not move on with it. */
static int take_current(struct nod_engine *engine, nod_time time, int64_t microamps)
{
	if (!engine->current)
		engine->current = nod_current_trace_new();
	if (!engine->current)
		return -ENOMEM;
	time.ns = nod_ns_add(time.ns, engine->shift);
	/* out of order or impossible: the trace counts it */
	int status = nod_current_trace_take(engine->current, time, microamps);
	return status == -ENOMEM ? status : 0;
}

static int take_header(struct nod_engine *engine, const char *key, const char *value)
{
	nod_time time;

	if (nod_time_parse(&time, value, strlen(value)))
		return 0;
	if (!strcmp(key, "locked") && !nod_time_is_set(engine->start) &&
	    !nod_time_is_set(engine->lock))
		nod_engine_set_lock(engine, time, NOD_LOCK_FROM_HEADER);
	else if (!strcmp(key, "ended") && !nod_time_is_set(engine->start))
		engine->ended = time; /* what was heard until then is still to come */
	else if (!strcmp(key, "ended"))
		nod_engine_advance(engine, time);
	return 0;
}

static bool is_sane(const struct nod_engine *engine, nod_time given)
{
	int64_t time = nod_ns_add(given.ns, engine->shift);

	return !nod_time_is_set(given) ||
	       (nod_engine_is_possible(given) && nod_engine_is_possible((nod_time){time}));
}

/* A frame whose time is damaged, or of a recorder whose clock is. */
static int refuse(struct nod_engine *engine)
{
	engine->misdated++;
	return nod_engine_take_defect(engine) ? -ENOMEM : -ERANGE;
}

int nod_engine_take_any(struct nod_engine *engine, const struct nod_frame *frame)
{
	return is_sane(engine, frame->time) ? take_frame_checking_clock(engine, frame)
					    : refuse(engine);
}

static int take_event(struct nod_engine *engine, const struct nod_event *event)
{
	switch (event->kind) {
	case NOD_EVENT_FRAME:
		return nod_engine_take_frames(engine, &event->frame, 1);
	case NOD_EVENT_LOSS:
		nod_engine_take_loss(engine, event->loss.interface, event->loss.count);
		return 0;
	case NOD_EVENT_GAP:
		nod_engine_take_gap(engine, event->gap.interface,
				    nod_time_after(event->gap.from, (nod_duration){engine->shift}),
				    (nod_time){nod_ns_add(event->time.ns, engine->shift)});
		return nod_engine_reach(engine,
					(nod_time){nod_ns_add(event->time.ns, engine->shift)});
	case NOD_EVENT_CLOCK:
		nod_engine_take_clock_step(engine, event->time, event->clock.step);
		return 0;
	case NOD_EVENT_CURRENT:
		return take_current(engine, event->time, event->current.microamps);
	case NOD_EVENT_MARK:
		return nod_engine_take_mark(engine, &event->mark);
	case NOD_EVENT_HEADER:
		return take_header(engine, event->header.key, event->header.value);
	case NOD_EVENT_DEFECT:
		return nod_engine_take_defect(engine);
	}
	return 0;
}

int nod_engine_take(struct nod_engine *engine, const struct nod_event *event)
{
	int status = -ERANGE;

	if (is_sane(engine, event->time))
		status = take_event(engine, event);
	else if (event->kind == NOD_EVENT_FRAME)
		status = refuse(engine);

	if (engine->past.starved)
		status = -ENOMEM;
	engine->past.starved = false;
	return status;
}

void nod_engine_advance(struct nod_engine *engine, nod_time now)
{
	nod_time time = {nod_ns_add(now.ns, engine->shift)};

	engine->ended = NOD_TIME_NONE;
	if (nod_time_is_set(engine->start) && nod_engine_is_possible(now) &&
	    nod_engine_is_possible(time))
		(void)nod_engine_reach(engine, time);
}

nod_duration nod_engine_clock_shift(const struct nod_engine *engine)
{
	return (nod_duration){engine->shift};
}
