/* SPDX-License-Identifier: MIT */
/* One moment at which messages stopped: which fuse or module explains it, and whether a hand
 * was at it. */
#include "inferred-moment.h"

#include "engine-internal.h"
#include "inferred-marks.h"
#include "hypergeometric.h"

/* So much of what stopped is of one fuse, and so much of what is on it stopped. Chosen. */
#define SHARE 0.8
/* A map has holes: the rest may be nobody's by the map, but so much is that fuse's. Chosen. */
#define MAPPED_SHARE 0.5
/* Others that went on: so many are enough to say that it was listened. Chosen. */
#define WENT_ON_MIN 3
/* That just these stopped, by accident. Chosen: once in fifty moments at which something
 * stops, and on a network that is held there are few. */
#define CHANCE_MAX 0.02
/* A network that was woken stays awake for less than this before its modules leave again.
 * Chosen. */
#define HELD_NS (180 * NOD_NS_PER_S)

static bool is_unknown(const struct nod_inferred_part *u)
{
	return u->fuse == NOD_NONE && u->module == NOD_NONE;
}

static bool is_on(const struct nod_inferred_look *l, const struct nod_inferred_part *u, int module)
{
	if (module == NOD_NONE || is_unknown(u))
		return module == NOD_NONE && is_unknown(u);
	if (u->module != NOD_NONE)
		return module == u->module;
	const struct nod_module *m = &l->engine->vehicle->modules[module];
	for (size_t i = 0; i < m->fuse_count; i++)
		if (m->fuses[i] == u->fuse)
			return true;
	return false;
}

/* A module with a second fuse may well go on: that it does speaks against nothing. */
static bool has_two_supplies(const struct nod_inferred_look *l, int module)
{
	return l->engine->vehicle->modules[module].fuse_count > 1;
}

static void tally_all(struct nod_inferred_look *l)
{
	const struct nod_stop *stop;

	l->population = l->stopped = l->went_on = l->unmapped = 0;
	for (size_t i = 0; i < l->v.count; i++) {
		const struct nod_cyclic *message = &l->v.messages[i];
		enum nod_cyclic_state state = nod_cyclic_at(&l->v, message, l->moment, &stop);
		l->population += state != NOD_CYCLIC_SILENT;
		l->stopped += state == NOD_CYCLIC_STOPPED;
		l->unmapped += state == NOD_CYCLIC_STOPPED && message->module == NOD_NONE &&
			       !message->tester;
		l->went_on += state == NOD_CYCLIC_ON && nod_cyclic_is_after(message, l->moment);
	}
}

void nod_inferred_tally(struct nod_inferred_look *l, struct nod_inferred_part *u)
{
	const struct nod_stop *stop;
	int first = NOD_NONE; /* module that stopped */

	u->heard = u->stopped = 0;
	u->unmapped = is_unknown(u) ? 0 : l->unmapped;
	u->several = false;
	u->due = u->back = (nod_time){INT64_MAX};
	u->chance = 1;
	for (size_t i = 0; i < l->v.count; i++) {
		const struct nod_cyclic *message = &l->v.messages[i];
		if (message->tester || !is_on(l, u, message->module))
			continue;
		enum nod_cyclic_state state = nod_cyclic_at(&l->v, message, l->moment, &stop);
		if (state == NOD_CYCLIC_ON && u->fuse != NOD_NONE &&
		    has_two_supplies(l, message->module))
			continue;
		u->heard += state != NOD_CYCLIC_SILENT;
		u->stopped += state == NOD_CYCLIC_STOPPED;
		if (state == NOD_CYCLIC_STOPPED) {
			u->several |= first != NOD_NONE && message->module != first;
			first = message->module;
			if (stop->to.ns < u->back.ns)
				u->back = stop->to;
			if (stop->due.ns < u->due.ns)
				u->due = stop->due;
		}
	}
	if (u->stopped && l->population <= NOD_HYPERGEOMETRIC_MAX)
		(void)nod_hypergeometric_tail(&u->chance, l->population, l->stopped, u->heard,
					      u->stopped);
}

/* True when a module is not one that comes and goes: nothing of its kind left the network
 * in the minutes before, and it never paused itself. */
static bool is_quiet_before(const struct nod_inferred_look *l, const struct nod_inferred_part *u)
{
	const struct nod_past *past = &l->engine->past;

	for (size_t i = 0; i < l->v.stop_count; i++) {
		const struct nod_stop *stop = &l->v.stops[i];
		if (stop->due.ns < l->moment.ns && stop->to.ns > l->moment.ns)
			return false;
	}
	for (size_t i = 0; i < past->pause_count; i++) {
		const struct nod_pause *p = nod_past_pause(past, i);
		struct nod_track *track = l->engine->tracks[p->network];
		struct nod_sender sender = nod_track_sender(track, &track->idents.items[p->ident]);
		if (p->from.ns < l->moment.ns - NOD_NS_PER_S &&
		    is_on(l, u, sender.kind == NOD_SENDER_MODULE ? sender.module : NOD_NONE))
			return false;
	}
	return true;
}

/* Somebody has pulled something before: he is still there. */
static bool is_somebody_there(const struct nod_engine *engine)
{
	for (size_t i = 0; i < engine->mark_count; i++)
		if (engine->marks[i].kind == NOD_MARK_ISOLATED)
			return true;
	return false;
}

/* The networks that it speaks on are held awake: past their deadline, or while somebody
 * pulls one fuse after the other, and for long. */
static bool is_held(const struct nod_inferred_look *l, const struct nod_inferred_part *u)
{
	bool somebody = is_somebody_there(l->engine);

	for (size_t i = 0; i < l->v.count; i++) {
		const struct nod_cyclic *message = &l->v.messages[i];
		const struct nod_track *track = l->engine->tracks[message->network];
		if (!is_on(l, u, message->module))
			continue;
		if (track->span.from.ns > l->moment.ns - HELD_NS ||
		    (!somebody &&
		     nod_engine_phase(l->engine, message->network, l->moment) != NOD_PHASE_LATE))
			return false;
	}
	return true;
}

static bool is_hand(const struct nod_inferred_look *l, const struct nod_inferred_part *u)
{
	if (u->stopped + u->unmapped < SHARE * l->stopped ||
	    u->stopped < MAPPED_SHARE * l->stopped ||
	    (u->stopped < SHARE * u->heard && !is_unknown(u)) || l->went_on < WENT_ON_MIN)
		return false;
	if (u->chance > CHANCE_MAX || !is_held(l, u))
		return false;
	return u->several || is_quiet_before(l, u);
}

/* Nothing was lost about that moment. */
static bool was_listened(const struct nod_inferred_look *l)
{
	for (size_t n = 0; n < l->engine->track_room; n++) {
		const struct nod_track *track = l->engine->tracks[n];
		if (track && (track->loss_pending ||
			      (nod_time_is_set(track->doubtful) &&
			       track->doubtful.ns > l->moment.ns - NOD_INFERRED_LATER_NS)))
			return false;
	}
	return true;
}

static void try_part(struct nod_inferred_look *l, int fuse, int module,
		     struct nod_inferred_part *best)
{
	struct nod_inferred_part u = {.fuse = fuse, .module = module};

	nod_inferred_tally(l, &u);
	if (u.chance < best->chance)
		*best = u;
}

bool nod_inferred_find(struct nod_inferred_look *l, int module, struct nod_inferred_part *best)
{
	best->chance = 1;
	tally_all(l);
	if (l->went_on < WENT_ON_MIN || !was_listened(l))
		return false;
	if (module == NOD_NONE) {
		try_part(l, NOD_NONE, NOD_NONE, best);
		return best->chance < 1 && is_hand(l, best);
	}
	const struct nod_module *m = &l->engine->vehicle->modules[module];
	for (size_t i = 0; i < m->fuse_count; i++)
		try_part(l, m->fuses[i], NOD_NONE, best);
	try_part(l, NOD_NONE, module, best);
	return best->chance < 1 && is_hand(l, best);
}
