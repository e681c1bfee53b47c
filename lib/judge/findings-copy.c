/* SPDX-License-Identifier: MIT */
/* Copies what the engine has seen into the findings: messages, senders and the journal; the
 * networks with their spans: findings-networks.c. */
#include "analysis.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "payload.h"

/* ---- messages and their senders ---- */

/* Room is guaranteed: a sender a message at most, and one for who hands it on. */
int nod_analysis_sender(struct nod_analysis *a, const struct nod_sender *sender)
{
	struct nod_findings *f = a->f;

	/* Each single ID asks once, so it is new: no search over 100,000 of them. */
	for (size_t i = 0; sender->kind != NOD_SENDER_ID && i < f->sender_count; i++) {
		struct nod_sender other = {f->senders[i].kind, f->senders[i].module,
					   f->senders[i].network, f->senders[i].number};
		if (nod_sender_same(&other, sender))
			return (int)i;
	}
	f->senders[f->sender_count] = (struct nod_sender_finding){
		sender->kind,
		sender->module,
		sender->network,
		sender->number,
		nod_sender_name(a->arena, sender, a->engine->vehicle),
		false};
	return (int)f->sender_count++;
}

static uint64_t sum(const uint64_t by_phase[NOD_PHASES])
{
	return by_phase[0] + by_phase[1] + by_phase[2];
}

static void copy_payload(struct nod_ident_finding *to, const struct nod_ident *from)
{
	struct nod_payload_roles roles;

	nod_payload_roles(&from->payload, &roles);
	to->counter_bits = (unsigned)__builtin_popcountll(roles.counter);
	to->checksum_bits = (unsigned)__builtin_popcountll(roles.checksum);
	to->changing_mask = from->changing & ~(roles.counter | roles.checksum);
	to->changing_late_mask = from->changing_late & to->changing_mask;
	to->changing_bits = (unsigned)__builtin_popcountll(to->changing_mask);
	to->changes_late = to->changing_late_mask ? from->changes_late : 0;
	to->last_change = from->last_change;
	to->word = from->payload.word;
	to->live_mask = from->changing | roles.counter | roles.checksum;
	to->length = from->payload.length;
}

static void copy_ident(struct nod_analysis *a, const struct nod_track *track,
		       const struct nod_ident *from)
{
	static const struct nod_sampler none;
	struct nod_ident_finding *to = &a->f->idents[a->f->ident_count];
	struct nod_sender sender = nod_track_sender(track, from);

	to->id = from->id;
	to->network = track->network;
	to->sender = nod_analysis_sender(a, &sender);
	to->frames = sum(from->frames);
	to->frames_late = from->frames[NOD_PHASE_LATE];
	to->first = from->first;
	to->last = from->last;
	to->before = nod_sampler_period(&from->settled);
	to->after = nod_sampler_period(from->after ? &from->after->intervals : &none);
	to->management = from->node != NULL;
	copy_payload(to, from);
}

struct order {
	uint32_t id;
	uint32_t index;
};

static int compare_order(const void *a, const void *b)
{
	uint32_t x = ((const struct order *)a)->id, y = ((const struct order *)b)->id;
	return (x > y) - (x < y);
}

/* Standard IDs first, then extended ones, each by number: EXTENDED is the top bit. */
static int copy_track_idents(struct nod_analysis *a, const struct nod_track *track)
{
	uint32_t count = track->idents.count;
	struct order *order = malloc((count ? count : 1) * sizeof(*order));
	int *map = nod_arena_alloc(a->arena, (count ? count : 1) * sizeof(*map));

	if (!order || !map) {
		free(order);
		return -ENOMEM;
	}
	for (uint32_t i = 0; i < count; i++)
		order[i] = (struct order){track->idents.items[i].id, i};
	qsort(order, count, sizeof(*order), compare_order);
	for (uint32_t i = 0; i < count; i++) {
		map[order[i].index] = (int)a->f->ident_count;
		copy_ident(a, track, &track->idents.items[order[i].index]);
		a->f->ident_count++;
	}
	free(order);
	a->ident_of[track->network] = map;
	return 0;
}

static int copy_idents(struct nod_analysis *a)
{
	struct nod_engine *engine = a->engine;
	size_t total = 0;

	for (size_t i = 0; i < engine->track_room; i++)
		total += engine->tracks[i] ? engine->tracks[i]->idents.count : 0;
	a->f->idents = nod_arena_alloc(a->arena, (total + 1) * sizeof(*a->f->idents));
	a->f->senders = nod_arena_alloc(a->arena, (2 * total + 1) * sizeof(*a->f->senders));
	a->ident_of = nod_arena_alloc(a->arena, (engine->track_room + 1) * sizeof(int *));
	if (!a->f->idents || !a->f->senders || !a->ident_of)
		return -ENOMEM;
	for (size_t i = 0; i < engine->track_room; i++)
		if (engine->tracks[i] && copy_track_idents(a, engine->tracks[i]))
			return -ENOMEM;
	return 0;
}

/* ---- the session ---- */

static const char *clock_cause(const struct nod_engine *engine)
{
	if (!engine->clock_count)
		return engine->lock_source == NOD_LOCK_FROM_START ? "start of the recording"
								  : "locked";
	if (engine->clock_count == 1 && engine->lock_source == NOD_LOCK_FROM_START)
		return "start of the recording";
	const struct nod_clock_start *last = &engine->clocks[engine->clock_count - 1];
	if (last->cause == NOD_MARK_NOTE)
		return last->in_use ? "in use" : "end of use";
	return nod_mark_kind_name(engine->clocks[engine->clock_count - 1].cause);
}

static int copy_session(struct nod_analysis *a)
{
	struct nod_engine *engine = a->engine;
	struct nod_findings *f = a->f;

	f->start = engine->start;
	f->end = engine->now;
	f->clock_shift.ns = engine->shift;
	f->lock = engine->lock;
	f->lock_source = engine->lock_source;
	f->late_start = engine->late_start.ns > f->lock.ns ? engine->late_start : NOD_TIME_NONE;
	f->clock_from = engine->clock_count ? engine->clocks[engine->clock_count - 1].time
					    : engine->lock;
	f->clock_cause = clock_cause(engine);
	f->frames = engine->frames;
	f->gaps = engine->gaps;
	f->clock_steps = engine->clock_steps;
	f->restarts = engine->restarts;
	f->defects = engine->defects;
	f->misdated = engine->misdated;
	if (engine->lagging != NOD_NONE) {
		f->lagging = nod_arena_printf(a->arena, "%s",
					      engine->interfaces->names[engine->lagging]);
		f->lag.ns = engine->lag[engine->lagging];
	}
	f->vehicle = engine->vehicle;
	f->vehicle_given = engine->vehicle_given;
	f->known = engine->known;
	f->marks = nod_arena_alloc(a->arena, (engine->mark_count + 1) * sizeof(*f->marks));
	if (!f->marks)
		return -ENOMEM;
	for (size_t i = 0; i < engine->mark_count; i++) {
		f->marks[i] = engine->marks[i];
		f->marks[i].subject = nod_arena_printf(a->arena, "%s", engine->marks[i].subject);
	}
	f->mark_count = engine->mark_count;
	return 0;
}

static void copy_touch(struct nod_analysis *a, struct nod_touch touch)
{
	bool open = nod_time_since(a->engine->now, touch.time).ns <= NOD_TOUCH_AFTER_NS;

	if (open)
		nod_touch_look(a->engine, &touch);
	for (size_t k = 0; k < touch.bit_count; k++) {
		const struct nod_touch_bit *bit = &touch.bits[k];
		a->f->touches[a->f->touch_count++] = (struct nod_touch_finding){
			touch.time,
			a->f->marks[touch.mark].subject,
			a->ident_of[bit->network][bit->ident],
			bit->bit,
			bit->toggles,
			nod_time_since(bit->time, touch.time),
			bit->word ^ bit->moved,
			bit->word};
	}
}

static int copy_touches(struct nod_analysis *a)
{
	size_t room = a->engine->touch_count * NOD_TOUCH_BITS + 1;

	a->f->touches = nod_arena_alloc(a->arena, room * sizeof(*a->f->touches));
	if (!a->f->touches)
		return -ENOMEM;
	for (size_t i = 0; i < a->engine->touch_count; i++)
		copy_touch(a, a->engine->touches[i]);
	return 0;
}

int nod_analysis_copy(struct nod_analysis *a)
{
	int status = copy_session(a);

	if (!status)
		status = nod_analysis_copy_uses(a);
	if (!status)
		status = copy_idents(a);
	if (!status)
		status = nod_analysis_find_routed(a);
	if (!status)
		status = nod_analysis_copy_networks(a);
	return status ? status : copy_touches(a);
}

/* ---- shared by the steps ---- */

struct nod_network_finding *nod_analysis_network(const struct nod_analysis *a, int network)
{
	if (network < 0 || (size_t)network >= a->f->network_count)
		return NULL;
	return &a->f->networks[network];
}

/* A person notes a door a little before or after opening it. Chosen: 20 s
 * either side, so that a wake-up is rarely excused by chance. */
#define EXPLAINED_BY_NS (20 * NOD_NS_PER_S)

nod_duration nod_analysis_late_overlap(const struct nod_analysis *a, int network, nod_time from,
				       nod_time to)
{
	const struct nod_engine *engine = a->engine;
	int64_t total = 0;

	for (size_t i = 0; i < engine->clock_count; i++) {
		const struct nod_clock_start *clock = &engine->clocks[i];
		int64_t late = nod_engine_deadline(engine, network, clock->time).ns;
		int64_t end = i + 1 < engine->clock_count ? engine->clocks[i + 1].time.ns
							  : INT64_MAX;
		if (end != INT64_MAX && from.ns > nod_ns_add(end, -EXPLAINED_BY_NS) &&
		    from.ns < end)
			end = from.ns; /* woken by what was noted a moment later: not late */
		late = from.ns > late ? from.ns : late;
		end = to.ns < end ? to.ns : end;
		if (!clock->in_use && end > late)
			total = nod_ns_add(total, end - late);
	}
	return (nod_duration){total};
}

const struct nod_mark_finding *nod_analysis_cause_of(const struct nod_analysis *a, nod_time time)
{
	const struct nod_mark_finding *nearest = NULL;
	int64_t least = EXPLAINED_BY_NS + 1;

	for (size_t i = 0; i < a->f->mark_count; i++) {
		const struct nod_mark_finding *mark = &a->f->marks[i];
		int64_t distance = nod_time_since(time, mark->time).ns;
		bool causes = nod_mark_disturbs((enum nod_mark_kind)mark->kind) ||
			      mark->kind == NOD_MARK_LOCKED || mark->kind == NOD_MARK_TESTER_OFF;
		int64_t apart = distance < 0 ? -distance : distance;
		if (!causes || apart >= least)
			continue;
		nearest = mark;
		least = apart;
	}
	return nearest;
}

const char *nod_analysis_length(const struct nod_analysis *a, nod_duration d)
{
	char text[NOD_TIME_TEXT];
	return nod_arena_printf(a->arena, "%s", nod_duration_print(text, d));
}

const char *nod_analysis_when(const struct nod_analysis *a, nod_time time)
{
	char text[NOD_TIME_TEXT];
	nod_duration since = nod_time_since(time, a->f->lock);

	nod_duration_print_seconds(text, since, 3);
	return nod_arena_printf(a->arena, "%s%s%s s",
				a->f->lock_source == NOD_LOCK_FROM_START ? "start" : "lock",
				since.ns < 0 ? "" : "+", text);
}
