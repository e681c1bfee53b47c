/* SPDX-License-Identifier: MIT */
/* Frames by the hundred. Nearly all are of a known ID and no different from those before:
 * a run of them is taken in three passes, so that what each frame waits for (its record,
 * the steps of the bit stuffing) is waited for by many together. */
#include <errno.h>

#include "engine-internal.h"
#include "track-take.h"

/* Frames taken together at most. Chosen: enough to hide the waiting, and what is known
 * about them stays in a first-level cache. */
#define TOGETHER 64

struct run {
	struct nod_track *tracks[TOGETHER];
	struct nod_ident *idents[TOGETHER];
	const struct nod_bits_line *lines[TOGETHER];
	uint16_t bits[TOGETHER];
};

/* Fetches what taking a frame will touch of a record, beside the ID, which has just been
 * looked at. */
static inline void fetch(const struct nod_ident *ident)
{
	__builtin_prefetch(&ident->bits, 1);
	__builtin_prefetch(&ident->payload.toggled, 1);
	__builtin_prefetch(&ident->payload.waited, 1);
}

/* How many of the frames change nothing but their network, their message and the time:
 * no first one, no step back, nothing that changes the length on the wire. */
static size_t find_run(const struct nod_engine *engine, const struct nod_frame *frames,
		       size_t count, struct run *run)
{
	int64_t now = engine->now.ns;
	size_t n;

	for (n = 0; n < count; n++) {
		const struct nod_frame *frame = &frames[n];
		struct nod_track *track = engine->track_of[frame->interface];
		if (frame->time.ns < now || !track ||
		    (frame->flags & NOD_FRAME_FD) | frame->raw_dlc)
			break;
		struct nod_ident *ident = nod_idents_known(&track->idents, frame->id);
		if (!ident || ident->line.length != frame->length)
			break;
		fetch(ident);
		run->tracks[n] = track;
		run->idents[n] = ident;
		run->lines[n] = &ident->line;
		now = frame->time.ns;
	}
	return n;
}

static int take_run(struct nod_engine *engine, const struct nod_frame *frames, size_t count,
		    struct run *run)
{
	int result = 0;

	nod_bits_walk(run->lines, frames, count, run->bits);
	for (size_t i = 0; i < count; i++) {
		struct nod_track *track = run->tracks[i];
		engine->now = frames[i].time;
		if (__builtin_expect(frames[i].time.ns > engine->use.until, 0))
			nod_in_use_over(engine);
		result |= nod_track_take_ident(
			track, run->idents[i], &frames[i],
			nod_engine_phase(engine, track->network, frames[i].time), run->bits[i],
			true);
	}
	engine->frames += count;
	return result;
}

/* False while there is more to a frame: no lock has come into force, there is a clock to
 * make up for, something is being worked on, somewhere nobody listens. */
static bool is_plain(const struct nod_engine *engine)
{
	return engine->clock_count && !engine->shift && engine->lagging == NOD_NONE &&
	       !engine->touches_open && !engine->deaf_count && !engine->back.open;
}

/* Returns how many frames it has taken, at least one. */
static size_t take_some(struct nod_engine *engine, const struct nod_frame *frames, size_t count,
			int *result)
{
	struct run run;
	size_t n = 0;

	if (is_plain(engine))
		n = find_run(engine, frames, count < TOGETHER ? count : TOGETHER, &run);
	/* the times ascend: if the last one is possible, all are */
	if (n && nod_engine_is_possible(frames[n - 1].time)) {
		if (take_run(engine, frames, n, &run))
			*result = -ENOMEM;
		return n;
	}
	if (nod_engine_take_any(engine, frames) == -ENOMEM)
		*result = -ENOMEM;
	return 1;
}

int nod_engine_take_frames(struct nod_engine *engine, const struct nod_frame *frames, size_t count)
{
	int result = 0;

	for (size_t at = 0; at < count;)
		at += take_some(engine, frames + at, count - at, &result);
	if (engine->past.starved)
		result = -ENOMEM;
	engine->past.starved = false;
	return result;
}
