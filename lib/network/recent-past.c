/* SPDX-License-Identifier: MIT */
#include "recent-past.h"

#include <stdlib.h>
#include <string.h>

#include "engine-internal.h"
#include "inferred-marks.h"

void nod_past_init(struct nod_past *past, struct nod_engine *engine)
{
	memset(past, 0, sizeof(*past));
	past->engine = engine;
	past->moment_due = NOD_TIME_NONE;
	for (size_t i = 0; i < NOD_MOMENTS; i++)
		past->moments[i].time = NOD_TIME_NONE;
}

void nod_past_clear(struct nod_past *past)
{
	free(past->pauses);
	for (size_t i = 0; i < NOD_MOMENTS; i++)
		nod_snapshot_clear(&past->moments[i].snapshot);
}

/* ---- pauses ---- */

bool nod_past_period(const struct nod_ident *ident, nod_duration *period)
{
	struct nod_period late = nod_ident_period(ident);

	*period = late.period;
	return late.rhythm == NOD_RHYTHM_CYCLIC || late.rhythm == NOD_RHYTHM_MIXED;
}

/* Room for one more; the oldest gives way. NULL: no memory, it is forgotten. */
static struct nod_pause *make_room(struct nod_past *past)
{
	if (past->pause_count == NOD_PAUSES_MAX) {
		past->pause_first = (past->pause_first + 1) % NOD_PAUSES_MAX;
		return &past->pauses[(past->pause_first + NOD_PAUSES_MAX - 1) % NOD_PAUSES_MAX];
	}
	if (past->pause_count == past->pause_room) {
		size_t room = past->pause_room ? past->pause_room * 2 : 64;
		void *pauses = realloc(past->pauses, room * sizeof(*past->pauses));
		if (!pauses) {
			past->starved = true;
			return NULL;
		}
		past->pauses = pauses;
		past->pause_room = room;
	}
	return &past->pauses[past->pause_count++];
}

void nod_past_note_pause(struct nod_past *past, const struct nod_track *track,
			 const struct nod_ident *ident, nod_time time, bool slept, nod_time end)
{
	nod_duration silent = nod_time_since(slept ? end : time, ident->last), period;
	int64_t least = slept ? NOD_PAUSE_EARLY_NS : NOD_MISSED_MIN_NS;

	if (silent.ns <= least || nod_ident_is_slower(ident, silent.ns / NOD_PAUSE_PERIODS) ||
	    !nod_past_period(ident, &period) || silent.ns / NOD_PAUSE_PERIODS <= period.ns)
		return;
	struct nod_pause *pause = make_room(past);
	if (pause)
		*pause = (struct nod_pause){ident->last, time,
					    (uint32_t)(ident - track->idents.items),
					    (uint16_t)track->network, slept};
}

const struct nod_pause *nod_past_pause(const struct nod_past *past, size_t index)
{
	return &past->pauses[(past->pause_first + index) % NOD_PAUSES_MAX];
}

/* ---- moments ---- */

void nod_past_keep_moment(struct nod_past *past, nod_time time)
{
	size_t at = past->moment_next;

	nod_inferred_look(past->engine, time);
	/* a clock that goes back a little keeps what there is */
	if (past->engine->ident_count > NOD_MOMENT_IDENTS_MAX ||
	    (nod_time_is_set(past->moment_due) && time.ns < past->moment_due.ns))
		return;
	past->moment_due = nod_time_after(time, (nod_duration){NOD_MOMENT_EVERY_NS});
	past->moment_next = (at + 1) % NOD_MOMENTS;
	past->moments[at].time = time;
	if (nod_snapshot_fill(&past->moments[at].snapshot, past->engine)) {
		past->moments[at].time = NOD_TIME_NONE;
		past->starved = true;
	}
}

bool nod_past_take_moment(struct nod_past *past, nod_time time, struct nod_snapshot *snapshot)
{
	size_t best = NOD_MOMENTS;

	for (size_t i = 0; i < NOD_MOMENTS; i++)
		if (nod_time_is_set(past->moments[i].time) && past->moments[i].time.ns <= time.ns &&
		    (best == NOD_MOMENTS || past->moments[i].time.ns > past->moments[best].time.ns))
			best = i;
	if (best == NOD_MOMENTS)
		return false;
	*snapshot = past->moments[best].snapshot;
	memset(&past->moments[best].snapshot, 0, sizeof(*snapshot));
	past->moments[best].time = NOD_TIME_NONE;
	return true;
}
