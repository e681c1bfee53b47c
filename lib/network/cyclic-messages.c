/* SPDX-License-Identifier: MIT */
#include "cyclic-messages.h"

#include <stdlib.h>
#include <string.h>

#include "engine-internal.h"

/* The next frame is due after one period; half of it more for jitter. Chosen. */
#define DUE_PERIODS 1.5
#define DUE_EXTRA_NS (100 * NOD_NS_PER_MS)

static nod_time due_after(nod_time last, nod_duration period)
{
	return (nod_time){last.ns + (int64_t)((double)period.ns * DUE_PERIODS) + DUE_EXTRA_NS};
}

static void add_stop(struct nod_cyclics *v, nod_time from, nod_time to, nod_time earliest,
		     nod_time now)
{
	struct nod_cyclic *message = &v->messages[v->count - 1];
	nod_time due = due_after(from, message->period);

	if (from.ns < earliest.ns || due.ns >= to.ns || due.ns >= now.ns)
		return;
	v->stops[v->stop_count++] = (struct nod_stop){from, due, to, v->count - 1};
	message->count++;
}

static void add_message(struct nod_cyclics *v, const struct nod_engine *engine,
			const struct nod_track *track, uint32_t index, nod_time earliest,
			nod_time now, nod_duration slowest)
{
	const struct nod_ident *ident = &track->idents.items[index];
	const struct nod_past *past = &engine->past;
	struct nod_cyclic *message = &v->messages[v->count];

	if (ident->last.ns < earliest.ns || !nod_past_period(ident, &message->period) ||
	    message->period.ns > slowest.ns)
		return;
	struct nod_sender sender = nod_track_sender(track, ident);
	message->last = ident->last;
	message->module = sender.kind == NOD_SENDER_MODULE ? sender.module : NOD_NONE;
	message->tester = sender.kind == NOD_SENDER_TESTER;
	message->network = track->network;
	message->first = v->stop_count;
	message->count = 0;
	v->count++;
	add_stop(v, ident->last, (nod_time){INT64_MAX}, earliest, now);
	for (size_t i = past->pause_count; i-- > 0;) {
		const struct nod_pause *p = nod_past_pause(past, i);
		if (p->to.ns < earliest.ns)
			break;
		if (p->ident == index && p->network == track->network)
			add_stop(v, p->from, p->to, earliest, now);
	}
}

bool nod_cyclics_gather(struct nod_cyclics *v, const struct nod_engine *engine, nod_time earliest,
			nod_time now, nod_duration slowest)
{
	size_t idents = engine->ident_count;

	memset(v, 0, sizeof(*v));
	if (idents > NOD_MOMENT_IDENTS_MAX)
		return false;
	v->messages = calloc(idents + 1, sizeof(*v->messages));
	v->stops = calloc(idents + engine->past.pause_count + 1, sizeof(*v->stops));
	for (size_t n = 0; v->messages && v->stops && n < engine->track_room; n++)
		for (uint32_t i = 0; engine->tracks[n] && i < engine->tracks[n]->idents.count; i++)
			add_message(v, engine, engine->tracks[n], i, earliest, now, slowest);
	if (v->messages && v->stops)
		return true;
	nod_cyclics_clear(v);
	v->starved = true;
	return false;
}

void nod_cyclics_clear(struct nod_cyclics *v)
{
	free(v->messages);
	free(v->stops);
	memset(v, 0, sizeof(*v));
}

enum nod_cyclic_state nod_cyclic_at(const struct nod_cyclics *v, const struct nod_cyclic *message,
				    nod_time moment, const struct nod_stop **stop)
{
	enum nod_cyclic_state state = message->last.ns < moment.ns ? NOD_CYCLIC_SILENT
								   : NOD_CYCLIC_ON;

	for (size_t i = message->first; i < message->first + message->count; i++) {
		const struct nod_stop *s = &v->stops[i];
		if (moment.ns < s->from.ns || moment.ns >= s->to.ns)
			continue;
		*stop = s;
		state = moment.ns <= s->due.ns ? NOD_CYCLIC_STOPPED : NOD_CYCLIC_SILENT;
	}
	return state;
}

bool nod_cyclic_is_after(const struct nod_cyclic *message, nod_time moment)
{
	return message->last.ns > due_after(moment, message->period).ns;
}

bool nod_cyclics_any_stopped(const struct nod_engine *engine, nod_time from, nod_time to)
{
	for (size_t n = 0; n < engine->track_room; n++) {
		const struct nod_track *track = engine->tracks[n];
		for (uint32_t i = 0; track && i < track->idents.count; i++)
			if (track->idents.items[i].last.ns > from.ns &&
			    track->idents.items[i].last.ns <= to.ns)
				return true;
	}
	for (size_t i = engine->past.pause_count; i-- > 0;) {
		const struct nod_pause *p = nod_past_pause(&engine->past, i);
		if (p->to.ns <= from.ns)
			break;
		if (p->from.ns > from.ns && p->from.ns <= to.ns)
			return true;
	}
	return false;
}
