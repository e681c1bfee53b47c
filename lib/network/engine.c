/* SPDX-License-Identifier: MIT */
#include "engine-internal.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "current-trace.h"
#include "dating.h"
#include "hands.h"
#include "marks.h"
#include "mark-forms.h"
#include "snapshot.h"

/* A frame this much earlier than what came before it is not the recorder's
 * merging (tens of milliseconds) but a clock that was set back. Chosen. */
#define CLOCK_SET_BACK_NS (2 * NOD_NS_PER_S)

/* Listening that began this long after the lock moves the settle clock. Chosen: a deadline
 * of minutes does not change by less. */
#define LATE_START_NS (10 * NOD_NS_PER_S)

/* An entry that says how far the clock was set may come this much later than the first
 * frame stamped since. Chosen: who looks at the clocks does so several times a second. */
#define STEP_TOLD_LATE_NS (2 * NOD_NS_PER_S)

/* For the settle clock an entry counts as made when it was entered, up to this much after
 * the hand: a few seconds there and back are usual, and the deadline is somebody's round figure.
 * Chosen. */
#define ENTERED_NS (5 * NOD_NS_PER_S)

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
	engine->late_start = NOD_TIME_NONE;
	nod_past_init(&engine->past, engine);
	nod_in_use_init(&engine->use);
	engine->hands_looked = NOD_TIME_NONE;
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

/* ---- the settle clock ---- */

static void set_deadline(struct nod_engine *engine, int network)
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
		set_deadline(engine, (int)i);
	return 0;
}

static int take_lock(struct nod_engine *engine, nod_time time, enum nod_lock_source source)
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

/* What a network did before anybody listened is not known: it may have slept and been
 * woken by whoever plugged in the adapter. So the settle clock starts when listening does. */
static int begin_listening(struct nod_engine *engine, nod_time time)
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

/* ---- where nobody listens ---- */

static void set_deaf(struct nod_engine *engine, unsigned interface, nod_time from)
{
	engine->deaf_count += nod_time_is_set(from) - nod_time_is_set(engine->deaf[interface]);
	engine->deaf[interface] = from;
}

/* Silence goes on there, but nobody hears it. */
static void doubt_deaf(struct nod_engine *engine, nod_time until)
{
	for (unsigned i = 0; i < engine->interfaces->count; i++)
		if (nod_time_is_set(engine->deaf[i]) && engine->track_of[i])
			nod_track_doubt(engine->track_of[i], until);
}

void nod_engine_doubt_deaf(struct nod_engine *engine)
{
	if (engine->deaf_count)
		doubt_deaf(engine, engine->now);
}

/* From `time` on, or no more. */
static void take_deaf(struct nod_engine *engine, uint8_t interface, nod_time time)
{
	for (unsigned i = 0; i < engine->interfaces->count; i++)
		if (i == interface || interface == NOD_ALL_INTERFACES) {
			set_deaf(engine, i, time);
			if (nod_time_is_set(time) && engine->track_of[i])
				nod_track_unheard(engine->track_of[i], time);
		}
	if (nod_time_is_set(
		    time)) /* no further: that it is over may stand behind what is read ahead */
		doubt_deaf(engine, time);
}

/* Moves time on to `time`, and the lock into force when it is reached. */
static int reach(struct nod_engine *engine, nod_time time)
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
		doubt_deaf(engine, time);
	if (engine->now.ns > engine->use.until)
		nod_in_use_over(engine);
	if (engine->touches_open)
		nod_touches_look(engine, engine->now);
	if (!engine->clock_count && engine->now.ns >= engine->lock.ns)
		return take_lock(engine, engine->lock, engine->lock_source);
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
	set_deadline(engine, network);
	engine->track_of[interface] = engine->tracks[network];
	return 0;
}

/* ---- what comes in ---- */

static int take_frame(struct nod_engine *engine, const struct nod_frame *given)
{
	struct nod_frame shifted;
	const struct nod_frame *frame = given;

	if (engine->shift) {
		shifted = *given;
		shifted.time.ns += engine->shift;
		frame = &shifted;
	}
	int status = reach(engine, frame->time);
	if (status)
		return status;
	if (!engine->listening)
		status = begin_listening(engine, frame->time);
	if (!status && !engine->track_of[frame->interface])
		status = find_track(engine, frame->interface);
	if (status)
		return status;
	struct nod_track *track = engine->track_of[frame->interface];
	set_deaf(engine, frame->interface, NOD_TIME_NONE);
	engine->frames++;
	return nod_track_take(track, frame, nod_engine_phase(engine, track->network, frame->time));
}

/* True when this step was guessed already, from frames that came before the entry. */
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

/* The clock was set: from here on times are shifted so that they go on. */
static void take_clock_step(struct nod_engine *engine, nod_time time, nod_duration step)
{
	bool told = step.ns != NOD_DURATION_NONE.ns;
	int64_t shift = shift_after(engine, time, step);

	engine->clock_steps += !was_guessed(engine, time, step);
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

static int take_frame_checking_clock(struct nod_engine *engine, const struct nod_frame *frame)
{
	int64_t time = frame->time.ns + engine->shift;

	if (nod_time_is_set(engine->now) && time < engine->now.ns) {
		engine->back_steps++;
		if (engine->now.ns - time > CLOCK_SET_BACK_NS)
			take_clock_step(engine, frame->time, NOD_DURATION_NONE);
	}
	return take_frame(engine, frame);
}

static void take_loss(struct nod_engine *engine, uint8_t interface, uint64_t count)
{
	for (size_t i = 0; i < engine->track_room; i++)
		if (engine->tracks[i] && (interface == NOD_ALL_INTERFACES ||
					  engine->track_of[interface] == engine->tracks[i]))
			nod_track_lost(engine->tracks[i], count);
}

static void take_gap(struct nod_engine *engine, uint8_t interface, nod_time from, nod_time to)
{
	engine->gaps++;
	for (size_t i = 0; i < engine->track_room; i++)
		if (engine->tracks[i] && (interface == NOD_ALL_INTERFACES ||
					  engine->track_of[interface] == engine->tracks[i])) {
			nod_track_unheard(engine->tracks[i], from);
			nod_track_doubt(engine->tracks[i], to);
		}
}

/* ---- the journal ---- */

int nod_engine_disturb(struct nod_engine *engine, nod_time time, enum nod_mark_kind kind)
{
	if (engine->in_use || !engine->clock_count ||
	    time.ns < engine->clocks[engine->clock_count - 1].time.ns)
		return 0;
	return nod_engine_start_clock(engine, time, false, kind);
}

static int act_on_mark(struct nod_engine *engine, const struct nod_mark *mark, nod_time time)
{
	uint8_t interface;
	nod_duration length;

	switch (mark->kind) {
	case NOD_MARK_LOCKED:
		return engine->lock_source == NOD_LOCK_FROM_OPTION
			       ? 0 /* the user knows better */
			       : take_lock(engine, time, NOD_LOCK_FROM_JOURNAL);
	case NOD_MARK_UNLOCKED:
		return nod_engine_start_clock(engine, time, true, mark->kind);
	case NOD_MARK_GAP: {
		int known = nod_mark_gap(mark, engine->interfaces, &interface, &length);
		if (!known)
			take_gap(engine, interface,
				 nod_time_after(time, (nod_duration){-length.ns}), time);
		engine->gaps += known == -ENOENT; /* nothing was ever heard there */
		if (!known && interface != NOD_ALL_INTERFACES)
			set_deaf(engine, interface, NOD_TIME_NONE);
		return 0;
	}
	case NOD_MARK_DEAF:
		if (!nod_mark_deaf(mark, engine->interfaces, &interface))
			take_deaf(engine, interface, time);
		return 0;
	case NOD_MARK_STARTED:
		engine->listened = true;
		take_deaf(engine, NOD_ALL_INTERFACES, NOD_TIME_NONE);
		return begin_listening(engine, time);
	case NOD_MARK_ZEROED:
		if (engine->current)
			nod_current_trace_zeroed(engine->current, time);
		return 0;
	default:
		if (!nod_mark_disturbs(mark->kind) && mark->kind != NOD_MARK_TESTER_OFF)
			return 0;
		return engine->in_use || !engine->clock_count
			       ? 0
			       : nod_engine_start_clock(engine, time, false, mark->kind);
	}
}

/* The earliest time that a mark can be dated to: the hand was elsewhere before. */
static nod_time last_act(const struct nod_engine *engine)
{
	for (size_t i = engine->mark_count; i-- > 0;) {
		const struct nod_mark_finding *m = &engine->marks[i];
		if (nod_mark_disturbs((enum nod_mark_kind)m->kind) || m->kind == NOD_MARK_LOCKED)
			return m->time;
	}
	return engine->start;
}

/* Keeps how far everything had come when the hand was at it. */
static int keep_snapshot(struct nod_engine *engine, const struct nod_dating *dating)
{
	struct nod_snapshot snapshot;
	int mark = (int)engine->mark_count - 1;

	if (dating->idents && nod_past_take_moment(&engine->past, dating->time, &snapshot))
		return nod_snapshot_keep(engine, &snapshot, mark);
	return nod_snapshot_take(engine, mark);
}

static int take_mark(struct nod_engine *engine, const struct nod_mark *mark)
{
	nod_duration step;

	if (mark->kind == NOD_MARK_CLOCK_STEP) /* its own time is on the new clock already */
		take_clock_step(engine, mark->time,
				nod_mark_clock_step(mark, &step) ? NOD_DURATION_NONE : step);
	nod_time time = {nod_ns_add(mark->time.ns, engine->shift)};
	int status = reach(engine, time);

	bool part = mark->kind == NOD_MARK_ISOLATED || mark->kind == NOD_MARK_REFITTED;
	struct nod_dating dating = {NOD_TIME_NONE, 0, false};
	if (!status && part && nod_hands_claim(engine, mark, time))
		return 0; /* the traffic had told it already */
	if (!status && part)
		dating = nod_dating_of(engine, mark->kind, mark->subject, time, last_act(engine));
	engine->past.starved |= dating.starved;
	if (!status)
		status = nod_marks_keep(
			engine, &(struct nod_mark_finding){dating.idents ? dating.time : time,
							   (int)mark->kind, mark->subject, time,
							   dating.idents, NULL, false});
	if (!status && part)
		status = keep_snapshot(engine, &dating);
	if (dating.idents && nod_time_since(time, dating.time).ns > ENTERED_NS)
		time = dating.time;
	if (!status && mark->kind == NOD_MARK_TOUCHED)
		nod_touch_begin(engine, (int)engine->mark_count - 1, time);
	return status == -ENOMEM ? status : act_on_mark(engine, mark, time);
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
	else if (!strcmp(key, "ended"))
		nod_engine_advance(engine, time);
	return 0;
}

/* Something could not be read: it stood behind the latest frame. */
static int take_defect(struct nod_engine *engine)
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

static bool is_sane(const struct nod_engine *engine, nod_time given)
{
	int64_t time = nod_ns_add(given.ns, engine->shift);

	return !nod_time_is_set(given) ||
	       (nod_engine_is_possible(given) && nod_engine_is_possible((nod_time){time}));
}

int nod_engine_take_any(struct nod_engine *engine, const struct nod_frame *frame)
{
	return is_sane(engine, frame->time) ? take_frame_checking_clock(engine, frame) : -ERANGE;
}

static int take_event(struct nod_engine *engine, const struct nod_event *event)
{
	switch (event->kind) {
	case NOD_EVENT_FRAME:
		return nod_engine_take_frames(engine, &event->frame, 1);
	case NOD_EVENT_LOSS:
		take_loss(engine, event->loss.interface, event->loss.count);
		return 0;
	case NOD_EVENT_GAP:
		take_gap(engine, event->gap.interface,
			 nod_time_after(event->gap.from, (nod_duration){engine->shift}),
			 (nod_time){nod_ns_add(event->time.ns, engine->shift)});
		return reach(engine, (nod_time){nod_ns_add(event->time.ns, engine->shift)});
	case NOD_EVENT_CLOCK:
		take_clock_step(engine, event->time, event->clock.step);
		return 0;
	case NOD_EVENT_CURRENT:
		return take_current(engine, event->time, event->current.microamps);
	case NOD_EVENT_MARK:
		return take_mark(engine, &event->mark);
	case NOD_EVENT_HEADER:
		return take_header(engine, event->header.key, event->header.value);
	case NOD_EVENT_DEFECT:
		return take_defect(engine);
	}
	return 0;
}

int nod_engine_take(struct nod_engine *engine, const struct nod_event *event)
{
	int status = is_sane(engine, event->time) ? take_event(engine, event) : -ERANGE;

	if (engine->past.starved)
		status = -ENOMEM;
	engine->past.starved = false;
	return status;
}

void nod_engine_advance(struct nod_engine *engine, nod_time now)
{
	nod_time time = {nod_ns_add(now.ns, engine->shift)};

	if (nod_time_is_set(engine->start) && nod_engine_is_possible(now) &&
	    nod_engine_is_possible(time))
		(void)reach(engine, time);
}

nod_duration nod_engine_clock_shift(const struct nod_engine *engine)
{
	return (nod_duration){engine->shift};
}
