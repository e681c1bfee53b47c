/* SPDX-License-Identifier: MIT */
#include "in-use.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>

#include "engine-internal.h"
#include "switches.h"

/* The messages are looked at this often. Chosen: longer than the periods of slow messages,
 * short enough for a recording of a few seconds. */
#define LOOK_NS (4 * NOD_NS_PER_S)

/* In use, values move in at least so many messages and in this share of those heard. In
 * recordings of real cars (fitted on six): in use 35 to 60 %, parked but awake 2 to 16 %, on
 * the way to sleep up to 29 %. Twice in a row: an opened door moves many values once. */
#define MOVING_MIN 10
#define MOVING_SHARE 0.35
#define STREAK 2

/* Of these, so many carry measured values: what is driven has them, while single bits flicker in
 * a parked car as well. In use 13 to 39 % of those heard, parked up to 14 %, of which none moved
 * as many (fitted on five). Who brings a map with the time to sleep watches a parked car: then it
 * takes more. Chosen. */
#define VALUES_SHARE 0.13
#define VALUES_SHARE_MAP 0.25

/* Where that many move, fewer are asked for: much of what is sent in use is packed from several
 * values, of which none is seen alone (fitted on one car, switched on and standing: 7 to 17 %). */
#define MOVING_MOST 0.5
#define VALUES_SHARE_MOST 0.06

/* Without a further sign it is over after this. Chosen: a car at a traffic light. */
#define OVER_NS (30 * NOD_NS_PER_S)
#define OVER_VALUES_NS (3 * LOOK_NS)

/* Above this many messages it is no car, and looking would cost too much. */
#define MESSAGES_MAX 8192

/* Stretches kept; the last one is extended when there are more. Chosen. */
#define USES_MAX 256

/* SAE J1939-71, from memory: PGN 61444 has the engine speed (SPN 190) in bytes 4 and 5, 0.125
 * 1/min a bit; PGN 65265 the wheel-based vehicle speed (SPN 84) in bytes 2 and 3, 1/256 km/h a
 * bit. From FB00h on it is no value. A starter turns an engine at 150 to 250 1/min; a wheel
 * sensor's noise reads as less than 3 km/h. */
#define PGN_ENGINE 0xF004
#define PGN_SPEED 0xFEF1
#define NO_VALUE 0xFB00
#define ENGINE_RUNS 300
#define ENGINE_MAX 5000
#define VEHICLE_MOVES 3
#define VEHICLE_MAX 150 /* trucks and machines */

/* Told by so many frames in a row, with values that change, but not by more than this share from
 * one to the next: other data under the ID do not look like a speed. Chosen. */
#define SPEEDS_MIN 20
#define STEP_SHARE 0.25

/* An engine that is started turns later than this after its networks have woken: key, self-test,
 * starter. Common practice, no source. */
#define AT_ONCE_NS NOD_NS_PER_S

void nod_in_use_init(struct nod_in_use *use)
{
	*use = (struct nod_in_use){
		.until = INT64_MAX, .next = INT64_MIN, .streak_from = NOD_TIME_NONE};
}

void nod_in_use_clear(struct nod_in_use *use)
{
	free(use->list);
	nod_in_use_init(use);
}

void nod_in_use_locked(struct nod_in_use *use)
{
	use->on = false;
	use->until = INT64_MAX;
	use->streak = 0;
	use->speed[0] = use->speed[1] = (struct nod_use_speed){.raw = 0};
}

static struct nod_use_finding *begin(struct nod_in_use *use, nod_time from)
{
	if (use->count == USES_MAX)
		return &use->list[use->count - 1];
	if (use->count == use->room) {
		size_t room = use->room ? use->room * 2 : 4;
		struct nod_use_finding *list = realloc(use->list, room * sizeof(*list));
		if (!list)
			return NULL;
		use->list = list;
		use->room = room;
	}
	use->list[use->count] = (struct nod_use_finding){.from = from, .to = from};
	return &use->list[use->count++];
}

/* Returns the running stretch with the sign of this moment, NULL: no memory. */
static struct nod_use_finding *note(struct nod_engine *engine, nod_time from, nod_time time,
				    enum nod_use_sign sign)
{
	struct nod_in_use *use = &engine->use;
	struct nod_use_finding *f = use->on ? &use->list[use->count - 1] : begin(use, from);

	if (!f || (!use->on && nod_engine_start_clock(engine, from, true, NOD_MARK_NOTE))) {
		use->starved = true;
		return NULL;
	}
	use->on = true;
	f->to = time;
	f->sign = sign > f->sign ? sign : f->sign;
	int64_t until = time.ns + (sign == NOD_USE_VALUES ? OVER_VALUES_NS : OVER_NS);
	use->until = use->until != INT64_MAX && use->until > until ? use->until : until;
	return f;
}

void nod_in_use_over(struct nod_engine *engine)
{
	struct nod_in_use *use = &engine->use;
	nod_time to = use->list[use->count - 1].to;

	use->on = false;
	use->until = INT64_MAX;
	use->streak = 0;
	for (size_t i = 0; i < engine->track_room; i++)
		if (engine->tracks[i])
			nod_track_locked(engine->tracks[i], to);
	use->starved |= nod_engine_start_clock(engine, to, false, NOD_MARK_NOTE) != 0;
}

struct moves {
	unsigned heard, moved, values;
};

static void count_move(struct moves *m, const struct nod_ident *ident, int64_t since)
{
	bool moved = nod_time_is_set(ident->last_change) && ident->last_change.ns > since;

	m->heard += ident->last.ns > since;
	m->moved += moved;
	m->values += moved && nod_data_of(&ident->payload, NULL, NULL).kind == NOD_DATA_VALUE;
}

static struct moves count_moves(const struct nod_engine *engine, int64_t since)
{
	struct moves m = {0, 0, 0};

	for (size_t i = 0; i < engine->track_room; i++) {
		const struct nod_idents *idents = engine->tracks[i] ? &engine->tracks[i]->idents
								    : NULL;
		for (uint32_t k = 0; idents && k < idents->count; k++)
			count_move(&m, &idents->items[k], since);
	}
	return m;
}

static bool is_use(const struct nod_engine *engine, const struct moves *m)
{
	bool map = false;

	for (size_t n = 0; n < engine->vehicle->network_count; n++)
		map |= engine->vehicle->networks[n].sleeps_within_given;
	bool most = !map && m->moved >= MOVING_MOST * m->heard;
	double values = map ? VALUES_SHARE_MAP : most ? VALUES_SHARE_MOST : VALUES_SHARE;
	return m->moved >= MOVING_MIN && m->moved >= MOVING_SHARE * m->heard &&
	       m->values >= values * m->heard;
}

void nod_in_use_look(struct nod_engine *engine, nod_time time)
{
	struct nod_in_use *use = &engine->use;
	int64_t since = time.ns - LOOK_NS;

	if (time.ns < use->next || engine->lock_source != NOD_LOCK_FROM_START ||
	    engine->ident_count > MESSAGES_MAX)
		return;
	use->next = time.ns + LOOK_NS;
	struct moves m = count_moves(engine, since);
	if (!is_use(engine, &m)) {
		use->streak = 0;
		return;
	}
	if (!use->streak++)
		use->streak_from.ns = since > engine->start.ns ? since : engine->start.ns;
	if (use->streak < STREAK && !use->on)
		return;
	struct nod_use_finding *f = note(engine, use->streak_from, time, NOD_USE_VALUES);
	if (f && m.moved > f->moving) {
		f->moving = m.moved;
		f->messages = m.heard;
	}
}

static uint32_t pgn_of(uint32_t id)
{
	return id & NOD_ID_EXTENDED ? id >> 8 & 0x3FFFF : 0;
}

bool nod_in_use_may_tell(uint32_t id)
{
	return pgn_of(id) == PGN_ENGINE || pgn_of(id) == PGN_SPEED;
}

static unsigned word_at(const struct nod_frame *frame, unsigned at)
{
	return frame->data[at] | (unsigned)frame->data[at + 1] << 8;
}

/* True when this speed goes on from those before it. */
static bool is_credible(struct nod_use_speed *s, unsigned raw, unsigned speed, bool is_engine,
			nod_time time)
{
	double step = s->raw ? fabs((double)raw - s->raw) / s->raw : 0;
	bool possible = speed >= (is_engine ? ENGINE_RUNS : VEHICLE_MOVES) &&
			speed <= (is_engine ? ENGINE_MAX : VEHICLE_MAX);

	if (!possible || step > STEP_SHARE)
		s->frames = s->changes = 0;
	s->since = s->frames ? s->since : time;
	s->changes += s->frames && raw != s->raw;
	s->raw = raw;
	if (possible && s->frames < SPEEDS_MIN)
		s->frames++;
	return s->frames >= SPEEDS_MIN && s->changes;
}

void nod_in_use_take(struct nod_engine *engine, struct nod_span *span,
		     const struct nod_frame *frame)
{
	struct nod_in_use *use = &engine->use;
	bool is_engine = pgn_of(frame->id) == PGN_ENGINE;

	if (frame->length != 8)
		return;
	unsigned raw = word_at(frame, is_engine ? 3 : 1);
	unsigned speed = is_engine ? raw / 8 : raw / 256;
	struct nod_use_speed *s = &use->speed[is_engine];
	if (raw >= NO_VALUE || !is_credible(s, raw, speed, is_engine, frame->time))
		return;
	span->began_moving |= s->since.ns <= span->from.ns + AT_ONCE_NS;
	span->moved = frame->time;
	if (engine->lock_source == NOD_LOCK_FROM_OPTION)
		return;
	enum nod_use_sign sign = is_engine ? NOD_USE_ENGINE : NOD_USE_SPEED;
	struct nod_use_finding *f = note(engine, frame->time, frame->time, sign);
	if (f && f->sign == sign && speed > f->speed)
		f->speed = speed;
}
