/* SPDX-License-Identifier: MIT */
/* Marks of the journal: dated, kept, and acted on. */
#include <errno.h>

#include "current-trace.h"
#include "dating.h"
#include "engine-take.h"
#include "inferred-marks.h"
#include "mark-forms.h"
#include "marks.h"
#include "snapshot.h"

/* For the settle clock a mark counts as made when it was entered, up to this much after
 * the hand: a few seconds there and back are usual, and the deadline is somebody's round figure.
 * Chosen. */
#define ENTERED_NS (5 * NOD_NS_PER_S)

static int act_on_mark(struct nod_engine *engine, const struct nod_mark *mark, nod_time time)
{
	uint8_t interface;
	nod_duration length;

	switch (mark->kind) {
	case NOD_MARK_LOCKED:
		return engine->lock_source == NOD_LOCK_FROM_OPTION
			       ? 0 /* the user knows better */
			       : nod_engine_take_lock(engine, time, NOD_LOCK_FROM_JOURNAL);
	case NOD_MARK_UNLOCKED:
		return nod_engine_start_clock(engine, time, true, mark->kind);
	case NOD_MARK_GAP: {
		int known = nod_mark_gap(mark, engine->interfaces, &interface, &length);
		if (!known)
			nod_engine_take_gap(engine, interface,
					    nod_time_after(time, (nod_duration){-length.ns}), time);
		engine->gaps += known == -ENOENT; /* nothing was ever heard there */
		if (!known && interface != NOD_ALL_INTERFACES)
			nod_engine_set_deaf(engine, interface, NOD_TIME_NONE);
		return 0;
	}
	case NOD_MARK_DEAF:
		if (!nod_mark_deaf(mark, engine->interfaces, &interface))
			nod_engine_take_deaf(engine, interface, time);
		return 0;
	case NOD_MARK_STARTED:
		engine->listened = true;
		nod_engine_take_deaf(engine, NOD_ALL_INTERFACES, NOD_TIME_NONE);
		return nod_engine_begin_listening(engine, time);
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

int nod_engine_take_mark(struct nod_engine *engine, const struct nod_mark *mark)
{
	nod_duration step;

	if (mark->kind == NOD_MARK_CLOCK_STEP) /* its own time is on the new clock already */
		nod_engine_take_clock_step(engine, mark->time,
					   nod_mark_clock_step(mark, &step) ? NOD_DURATION_NONE
									    : step);
	nod_time time = {nod_ns_add(mark->time.ns, engine->shift)};
	int status = nod_engine_reach(engine, time);

	bool part = mark->kind == NOD_MARK_ISOLATED || mark->kind == NOD_MARK_REFITTED;
	struct nod_dating dating = {.time = NOD_TIME_NONE};
	if (!status && part && nod_inferred_claim(engine, mark, time))
		return 0; /* the traffic had told it already */
	if (!status && part)
		dating = nod_dating_of(engine, mark->kind, mark->subject, time, last_act(engine));
	engine->past.starved |= dating.starved;
	if (!status)
		status = nod_marks_keep(
			engine,
			&(struct nod_mark_finding){.time = dating.idents ? dating.time : time,
						   .kind = (int)mark->kind,
						   .subject = mark->subject,
						   .entered = time,
						   .dated_by = dating.idents,
						   .by_sleep = dating.by_sleep && dating.idents});
	if (!status && part)
		status = keep_snapshot(engine, &dating);
	if (dating.idents && nod_time_since(time, dating.time).ns > ENTERED_NS)
		time = dating.time;
	if (!status && mark->kind == NOD_MARK_TOUCHED)
		nod_touch_begin(engine, (int)engine->mark_count - 1, time);
	return status == -ENOMEM ? status : act_on_mark(engine, mark, time);
}
