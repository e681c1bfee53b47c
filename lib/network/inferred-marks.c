/* SPDX-License-Identifier: MIT */
#include "inferred-marks.h"

#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "dating.h"
#include "engine-internal.h"
#include "inferred-moment.h"
#include "marks.h"

/* Nobody left the network by himself for so long before. Chosen: above the run times after
 * which modules end one after the other. */
#define QUIET_BEFORE_NS (120 * NOD_NS_PER_S)
/* What nobody noted was out for so long at least: who pulls something looks what it does.
 * Chosen. */
#define OUT_MIN_NS (5 * NOD_NS_PER_S)
/* A mark so near means the same. Chosen: seconds early, minutes late (dating.h). */
#define NEAR_NS (20 * NOD_NS_PER_S)
#define DENIED_NS (5 * NOD_NS_PER_S)

/* ---- what is known of it already ---- */

/* True when a mark's words mean the fuse or module. */
static bool means(const struct nod_engine *engine, const char *subject, int fuse, int module)
{
	int f = NOD_NONE, m = NOD_NONE;

	nod_vehicle_resolve(engine->vehicle, subject, &f, &m);
	return f == fuse && m == module;
}

/* The mark that may stand for what happened then, else NULL. One that meant another part by the
 * traffic is of that one. */
static struct nod_mark_finding *mark_near(struct nod_engine *engine, enum nod_mark_kind kind,
					  nod_time moment)
{
	for (size_t i = engine->mark_count; i-- > 0;) {
		struct nod_mark_finding *m = &engine->marks[i];
		if (m->kind == (int)kind && !m->inferred && !m->meant &&
		    m->time.ns >= moment.ns - NEAR_NS &&
		    m->time.ns <= moment.ns + NOD_INFERRED_LATER_NS)
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

/* Whether the mark speaks of what stopped. *wrong: what it names went on, until after the others
 * were missed, so another was meant. Where nothing of what it names was heard by then, it may
 * have stopped before: what stops is not what was pulled but what follows it. */
static bool is_about(const struct nod_inferred_look *l, const struct nod_mark_finding *mark,
		     const struct nod_inferred_part *found, bool *wrong)
{
	struct nod_inferred_part u = {.fuse = NOD_NONE, .module = NOD_NONE, .chance = 1};
	struct nod_inferred_look copy = *l;

	*wrong = false;
	if (means(l->engine, mark->subject, found->fuse, found->module) ||
	    !nod_vehicle_resolve(l->engine->vehicle, mark->subject, &u.fuse, &u.module))
		return true;
	nod_inferred_tally(&copy, &u);
	if (u.stopped)
		return true;
	copy.moment = found->due;
	nod_inferred_tally(&copy, &u);
	*wrong = u.heard && !u.stopped;
	return u.heard;
}

/* ---- looking ---- */

static void take_pull(struct nod_inferred_look *l, const struct nod_inferred_part *u)
{
	struct nod_mark_finding *mark = mark_near(l->engine, NOD_MARK_ISOLATED, l->moment);
	const char *name = nod_marks_part(l->engine, u->fuse, u->module);
	bool wrong;

	if (mark && !is_about(l, mark, u, &wrong))
		return;
	if (mark) {
		if (wrong)
			mark->meant = name;
		mark->dated_by = u->stopped + u->unmapped;
		mark->unmapped = u->unmapped;
	} else if (u->back.ns - l->moment.ns >= OUT_MIN_NS &&
		   !is_known(l->engine, NOD_MARK_ISOLATED, l->moment)) {
		nod_marks_infer(l->engine, NOD_MARK_ISOLATED, name, l->moment,
				u->stopped + u->unmapped, u->unmapped);
	}
}

static void look_for_pulls(struct nod_engine *engine, nod_time from, nod_time to)
{
	struct nod_inferred_look l = {.engine = engine};
	nod_time earliest = nod_time_after(from, (nod_duration){-QUIET_BEFORE_NS});
	nod_time seen = nod_time_after(to, (nod_duration){NOD_INFERRED_LATER_NS});
	struct nod_inferred_part best = {.chance = 1};

	if (!nod_cyclics_gather(&l.v, engine, earliest, seen,
				(nod_duration){NOD_INFERRED_SLOWEST_NS})) {
		engine->past.starved |= l.v.starved;
		return;
	}
	for (size_t i = 0; i < l.v.stop_count; i++) {
		struct nod_inferred_look one = l;
		struct nod_inferred_part u;
		one.moment = l.v.stops[i].from;
		if (one.moment.ns <= from.ns || one.moment.ns > to.ns ||
		    !nod_inferred_find(&one, l.v.messages[l.v.stops[i].message].module, &u) ||
		    u.chance >= best.chance)
			continue;
		best = u;
		l.moment = one.moment;
		l.stopped = one.stopped;
		l.population = one.population;
		l.went_on = one.went_on;
		l.unmapped = one.unmapped;
	}
	if (best.chance < 1)
		take_pull(&l, &best);
	nod_cyclics_clear(&l.v);
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
	/* what spoke again before it was noted as out was put back by nobody who notes things */
	nod_time out = off->entered.ns > off->time.ns ? off->entered : off->time;
	nod_time after = nod_time_after(out, nod_seconds(1));
	struct nod_dating back = nod_dating_of(engine, NOD_MARK_REFITTED, meaning(off), to, after);

	if (!back.idents || back.time.ns > to.ns)
		return;
	struct nod_mark_finding *mark = mark_near(engine, NOD_MARK_REFITTED, back.time);
	if (mark) {
		mark->meant = off->meant;
		mark->dated_by = back.idents;
	} else if (!is_known(engine, NOD_MARK_REFITTED, back.time)) {
		nod_marks_infer(engine, NOD_MARK_REFITTED, meaning(off), back.time, back.idents, 0);
	}
}

void nod_inferred_look(struct nod_engine *engine, nod_time now)
{
	nod_time to = nod_time_after(now, (nod_duration){-NOD_INFERRED_LATER_NS});
	nod_time from = engine->inferred_until;

	if (nod_time_is_set(from) && to.ns - from.ns < NOD_NS_PER_S)
		return;
	engine->inferred_until = to;
	nod_touches_look_at_wakes(engine, now);
	if (!nod_time_is_set(from) || engine->in_use || !engine->clock_count ||
	    engine->ident_count > NOD_MOMENT_IDENTS_MAX || !engine->vehicle->module_count)
		return;
	if (nod_cyclics_any_stopped(engine, from, to))
		look_for_pulls(engine, from, to);
	for (size_t i = engine->mark_count; i-- > 0;)
		if (engine->marks[i].kind == NOD_MARK_ISOLATED && engine->marks[i].dated_by &&
		    engine->marks[i].time.ns < from.ns && !is_refitted(engine, i))
			look_for_return(engine, i, to);
}

/* ---- marks that come later ---- */

bool nod_inferred_claim(struct nod_engine *engine, const struct nod_mark *mark, nod_time entered)
{
	int fuse = NOD_NONE, module = NOD_NONE;

	nod_vehicle_resolve(engine->vehicle, mark->subject, &fuse, &module);
	for (size_t i = engine->mark_count; i-- > 0;) {
		struct nod_mark_finding *m = &engine->marks[i];
		if (!m->inferred || m->kind != (int)mark->kind ||
		    entered.ns - m->time.ns > NOD_DATING_LATE_NS)
			continue;
		bool same = !*mark->subject || means(engine, m->subject, fuse, module);
		struct nod_dating own = {.time = NOD_TIME_NONE};
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
