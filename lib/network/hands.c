/* SPDX-License-Identifier: MIT */
#include "hands.h"

#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "dating.h"
#include "engine-internal.h"
#include "hypergeometric.h"
#include "marks.h"
#include "voices.h"

/* So much of what stopped is of one fuse, and so much of what is on it stopped. Chosen. */
#define SHARE 0.8
/* Others that went on: so many are enough to say that it was listened. Chosen. */
#define WENT_ON_MIN 3
/* That just these stopped, by accident. Chosen: once in fifty moments at which something
 * stops, and on a network that is held there are few. */
#define CHANCE_MAX 0.02
/* A network that was woken stays awake for less than this before its modules leave again.
 * Chosen. */
#define HELD_NS (180 * NOD_NS_PER_S)
/* Nobody left the network by himself for so long before. Chosen: above the run times after
 * which modules end one after the other. */
#define QUIET_BEFORE_NS (120 * NOD_NS_PER_S)
/* What nobody noted was out for so long at least: who pulls something looks what it does.
 * Chosen. */
#define OUT_MIN_NS (5 * NOD_NS_PER_S)
/* An entry so near means the same. Chosen: seconds early, minutes late (dating.h). */
#define NEAR_NS (20 * NOD_NS_PER_S)
#define DENIED_NS (5 * NOD_NS_PER_S)

/* What may have been pulled, and what its messages did at one moment. */
struct unit {
	int fuse, module; /* one of them NOD_NONE; both: a part that the map does not know */
	unsigned heard, stopped;
	bool several;  /* modules that stopped */
	nod_time back; /* when the first of them spoke again */
	double chance;
};

struct look {
	struct nod_engine *engine;
	struct nod_voices v;
	nod_time moment;
	unsigned population, stopped, went_on;
};

/* ---- one moment ---- */

static bool is_unknown(const struct unit *u)
{
	return u->fuse == NOD_NONE && u->module == NOD_NONE;
}

static bool is_on(const struct look *l, const struct unit *u, int module)
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
static bool has_two_supplies(const struct look *l, int module)
{
	return l->engine->vehicle->modules[module].fuse_count > 1;
}

static void tally_all(struct look *l)
{
	const struct nod_stop *stop;

	l->population = l->stopped = l->went_on = 0;
	for (size_t i = 0; i < l->v.count; i++) {
		const struct nod_voice *voice = &l->v.voices[i];
		enum nod_voice_state state = nod_voice_at(&l->v, voice, l->moment, &stop);
		l->population += state != NOD_VOICE_SILENT;
		l->stopped += state == NOD_VOICE_STOPPED;
		l->went_on += state == NOD_VOICE_ON && nod_voice_is_after(voice, l->moment);
	}
}

static void tally_unit(struct look *l, struct unit *u)
{
	const struct nod_stop *stop;
	int first = NOD_NONE; /* module that stopped */

	u->heard = u->stopped = 0;
	u->several = false;
	u->back = (nod_time){INT64_MAX};
	u->chance = 1;
	for (size_t i = 0; i < l->v.count; i++) {
		const struct nod_voice *voice = &l->v.voices[i];
		if (voice->tester || !is_on(l, u, voice->module))
			continue;
		enum nod_voice_state state = nod_voice_at(&l->v, voice, l->moment, &stop);
		if (state == NOD_VOICE_ON && u->fuse != NOD_NONE &&
		    has_two_supplies(l, voice->module))
			continue;
		u->heard += state != NOD_VOICE_SILENT;
		u->stopped += state == NOD_VOICE_STOPPED;
		if (state == NOD_VOICE_STOPPED) {
			u->several |= first != NOD_NONE && voice->module != first;
			first = voice->module;
			if (stop->to.ns < u->back.ns)
				u->back = stop->to;
		}
	}
	if (u->stopped && l->population <= NOD_HYPERGEOMETRIC_MAX)
		(void)nod_hypergeometric_tail(&u->chance, l->population, l->stopped, u->heard,
					      u->stopped);
}

/* True when a module is not one that comes and goes: nothing of its kind left the network
 * in the minutes before, and it never paused itself. */
static bool is_quiet_before(const struct look *l, const struct unit *u)
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
static bool is_held(const struct look *l, const struct unit *u)
{
	bool somebody = is_somebody_there(l->engine);

	for (size_t i = 0; i < l->v.count; i++) {
		const struct nod_voice *voice = &l->v.voices[i];
		const struct nod_track *track = l->engine->tracks[voice->network];
		if (!is_on(l, u, voice->module))
			continue;
		if (track->span.from.ns > l->moment.ns - HELD_NS ||
		    (!somebody &&
		     nod_engine_phase(l->engine, voice->network, l->moment) != NOD_PHASE_LATE))
			return false;
	}
	return true;
}

static bool is_hand(const struct look *l, const struct unit *u)
{
	if (u->stopped < SHARE * l->stopped || (u->stopped < SHARE * u->heard && !is_unknown(u)) ||
	    l->went_on < WENT_ON_MIN)
		return false;
	if (u->chance > CHANCE_MAX || !is_held(l, u))
		return false;
	return u->several || is_quiet_before(l, u);
}

/* Nothing was lost about that moment. */
static bool was_listened(const struct look *l)
{
	for (size_t n = 0; n < l->engine->track_room; n++) {
		const struct nod_track *track = l->engine->tracks[n];
		if (track && (track->loss_pending ||
			      (nod_time_is_set(track->doubtful) &&
			       track->doubtful.ns > l->moment.ns - NOD_HANDS_LATER_NS)))
			return false;
	}
	return true;
}

static void try_unit(struct look *l, int fuse, int module, struct unit *best)
{
	struct unit u = {.fuse = fuse, .module = module};

	tally_unit(l, &u);
	if (u.chance < best->chance)
		*best = u;
}

/* The likeliest fuse of the module that stopped then, else the module itself, when a hand was
 * at it. */
static bool find_unit(struct look *l, int module, struct unit *best)
{
	best->chance = 1;
	tally_all(l);
	if (l->went_on < WENT_ON_MIN || !was_listened(l))
		return false;
	if (module == NOD_NONE) {
		try_unit(l, NOD_NONE, NOD_NONE, best);
		return best->chance < 1 && is_hand(l, best);
	}
	const struct nod_module *m = &l->engine->vehicle->modules[module];
	for (size_t i = 0; i < m->fuse_count; i++)
		try_unit(l, m->fuses[i], NOD_NONE, best);
	try_unit(l, NOD_NONE, module, best);
	return best->chance < 1 && is_hand(l, best);
}

/* ---- what is known of it already ---- */

/* True when a mark's words mean the fuse or module. */
static bool means(const struct nod_engine *engine, const char *subject, int fuse, int module)
{
	int f = NOD_NONE, m = NOD_NONE;

	nod_vehicle_resolve(engine->vehicle, subject, &f, &m);
	return f == fuse && m == module;
}

/* The entry that may stand for what happened then, else NULL. */
static struct nod_mark_finding *entry_near(struct nod_engine *engine, enum nod_mark_kind kind,
					   nod_time moment)
{
	for (size_t i = engine->mark_count; i-- > 0;) {
		struct nod_mark_finding *m = &engine->marks[i];
		if (m->kind == (int)kind && !m->inferred && m->time.ns >= moment.ns - NEAR_NS &&
		    m->time.ns <= moment.ns + NOD_HANDS_LATER_NS)
			return m;
	}
	return NULL;
}

static bool is_known(const struct nod_engine *engine, enum nod_mark_kind kind, nod_time moment)
{
	for (size_t i = engine->mark_count; i-- > 0;) {
		const struct nod_mark_finding *m = &engine->marks[i];
		int64_t distance = m->time.ns > moment.ns ? m->time.ns - moment.ns
							  : moment.ns - m->time.ns;
		if ((m->kind == NOD_MARK_NOTHING && distance <= DENIED_NS) ||
		    (m->kind == (int)kind && m->inferred && distance <= NEAR_NS))
			return true;
	}
	return false;
}

/* What the entry says is still there: another was meant. */
static bool is_wrong(const struct look *l, const struct nod_mark_finding *entry,
		     const struct unit *found)
{
	struct unit u = {.fuse = NOD_NONE, .module = NOD_NONE, .chance = 1};
	struct look copy = *l;

	if (entry->meant || means(l->engine, entry->subject, found->fuse, found->module) ||
	    !nod_vehicle_resolve(l->engine->vehicle, entry->subject, &u.fuse, &u.module))
		return false;
	tally_unit(&copy, &u);
	return !u.stopped;
}

/* ---- looking ---- */

static void take_pull(struct look *l, const struct unit *u)
{
	struct nod_mark_finding *entry = entry_near(l->engine, NOD_MARK_ISOLATED, l->moment);
	const char *name = nod_marks_part(l->engine, u->fuse, u->module);

	if (entry) {
		if (is_wrong(l, entry, u))
			entry->meant = name;
		entry->dated_by = u->stopped;
	} else if (u->back.ns - l->moment.ns >= OUT_MIN_NS &&
		   !is_known(l->engine, NOD_MARK_ISOLATED, l->moment)) {
		nod_marks_infer(l->engine, NOD_MARK_ISOLATED, name, l->moment, u->stopped);
	}
}

static void look_for_pulls(struct nod_engine *engine, nod_time from, nod_time to)
{
	struct look l = {.engine = engine};
	nod_time earliest = nod_time_after(from, (nod_duration){-QUIET_BEFORE_NS});
	nod_time seen = nod_time_after(to, (nod_duration){NOD_HANDS_LATER_NS});
	struct unit best = {.chance = 1};

	if (!nod_voices_gather(&l.v, engine, earliest, seen,
			       (nod_duration){NOD_HANDS_SLOWEST_NS})) {
		engine->past.starved |= l.v.starved;
		return;
	}
	for (size_t i = 0; i < l.v.stop_count; i++) {
		struct look one = l;
		struct unit u;
		one.moment = l.v.stops[i].from;
		if (one.moment.ns <= from.ns || one.moment.ns > to.ns ||
		    !find_unit(&one, l.v.voices[l.v.stops[i].voice].module, &u) ||
		    u.chance >= best.chance)
			continue;
		best = u;
		l.moment = one.moment;
		l.stopped = one.stopped;
		l.population = one.population;
		l.went_on = one.went_on;
	}
	if (best.chance < 1)
		take_pull(&l, &best);
	nod_voices_clear(&l.v);
}

/* The meaning of a mark by the traffic, else in the person's words. */
static const char *meaning(const struct nod_mark_finding *m)
{
	return m->meant ? m->meant : m->subject;
}

/* True when it was put back again, as far as is known. */
static bool is_refitted(const struct nod_engine *engine, size_t isolation)
{
	const char *name = meaning(&engine->marks[isolation]);

	for (size_t i = isolation + 1; i < engine->mark_count; i++) {
		const struct nod_mark_finding *m = &engine->marks[i];
		if (m->kind == NOD_MARK_REFITTED && (!*m->subject || !strcasecmp(meaning(m), name)))
			return true;
	}
	return false;
}

static void look_for_return(struct nod_engine *engine, size_t isolation, nod_time to)
{
	const struct nod_mark_finding *off = &engine->marks[isolation];
	nod_time after = nod_time_after(off->time, nod_seconds(1));
	struct nod_dating back = nod_dating_of(engine, NOD_MARK_REFITTED, meaning(off), to, after);

	if (!back.idents || back.time.ns > to.ns)
		return;
	struct nod_mark_finding *entry = entry_near(engine, NOD_MARK_REFITTED, back.time);
	if (entry) {
		if (off->meant && !entry->meant)
			entry->meant = off->meant;
		entry->dated_by = back.idents;
	} else if (!is_known(engine, NOD_MARK_REFITTED, back.time)) {
		nod_marks_infer(engine, NOD_MARK_REFITTED, meaning(off), back.time, back.idents);
	}
}

void nod_hands_look(struct nod_engine *engine, nod_time now)
{
	nod_time to = nod_time_after(now, (nod_duration){-NOD_HANDS_LATER_NS});
	nod_time from = engine->hands_looked;

	if (nod_time_is_set(from) && to.ns - from.ns < NOD_NS_PER_S)
		return;
	engine->hands_looked = to;
	if (!nod_time_is_set(from) || engine->in_use || !engine->clock_count ||
	    engine->ident_count > NOD_MOMENT_IDENTS_MAX || !engine->vehicle->module_count)
		return;
	if (nod_voices_any_stopped(engine, from, to))
		look_for_pulls(engine, from, to);
	for (size_t i = engine->mark_count; i-- > 0;)
		if (engine->marks[i].kind == NOD_MARK_ISOLATED && engine->marks[i].dated_by &&
		    engine->marks[i].time.ns < from.ns && !is_refitted(engine, i))
			look_for_return(engine, i, to);
}

/* ---- entries that come later ---- */

bool nod_hands_claim(struct nod_engine *engine, const struct nod_mark *mark, nod_time entered)
{
	int fuse = NOD_NONE, module = NOD_NONE;

	nod_vehicle_resolve(engine->vehicle, mark->subject, &fuse, &module);
	for (size_t i = engine->mark_count; i-- > 0;) {
		struct nod_mark_finding *m = &engine->marks[i];
		if (!m->inferred || m->kind != (int)mark->kind ||
		    entered.ns - m->time.ns > NOD_DATING_LATE_NS)
			continue;
		bool same = !*mark->subject || means(engine, m->subject, fuse, module);
		struct nod_dating own = {NOD_TIME_NONE, 0, false};
		if (!same)
			own = nod_dating_of(engine, mark->kind, mark->subject, entered,
					    engine->start);
		if (own.idents)
			continue; /* it has a moment of its own */
		char *subject = *mark->subject ? strdup(mark->subject) : NULL;
		engine->past.starved |= own.starved || (*mark->subject && !subject);
		if (subject) {
			m->meant = same ? NULL : nod_marks_name(engine, m->subject);
			free((char *)m->subject);
			m->subject = subject;
		}
		m->inferred = false;
		m->entered = entered;
		return true;
	}
	return false;
}
