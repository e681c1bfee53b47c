/* SPDX-License-Identifier: MIT */
/* What each frame does to the track of its network. track.c has what few frames need. */
#ifndef NOD_TRACK_TAKE_H
#define NOD_TRACK_TAKE_H

#include "ident-take.h"
#include "track.h"

/* A stretch of one sender's frames is remembered from this length on: longer
 * than the periods of a busy network, shorter than the wait-bus-sleep times of
 * published example sets (1.5 to 5 s), in which all but one are silent. */
#define NOD_RUN_MIN_NS (1200 * NOD_NS_PER_MS)

/* A message that does not come for this long has paused, if it usually comes more often:
 * about the shortest wait-bus-sleep time of published example sets (750 ms). */
#define NOD_PAUSE_MIN_NS (700 * NOD_NS_PER_MS)

/* So long a silence of the whole network is a lull: longer than the gaps that the fastest
 * messages of an everyday network leave (10 to 200 ms). Chosen. */
#define NOD_LULL_MIN_NS (400 * NOD_NS_PER_MS)

/* turn: a silence or a lull is over, frames were lost, or a time is before the last one. meet: the
 * first frame of a message in an awake span. lone_run: somebody else speaks after a
 * while. protocols: diagnostics and network management. Those that return something: 0 or
 * -ENOMEM. */
int nod_track_take_turn(struct nod_track *track, struct nod_ident *ident, nod_time time,
			enum nod_phase phase);
int nod_track_meet(struct nod_track *track, struct nod_ident *ident, nod_time time);
void nod_track_note_lone_run(struct nod_track *track, nod_time time);
void nod_track_note_pause(struct nod_track *track, struct nod_ident *ident, int64_t interval);
void nod_track_note_missing(struct nod_track *track, const struct nod_ident *ident, nod_time time);
void nod_track_begin_second(struct nod_track *track, nod_time time);
int nod_track_note_protocols(struct nod_track *track, struct nod_ident *ident,
			     const struct nod_frame *frame, enum nod_phase phase);

static inline void nod_track_count_bits(struct nod_track *track, struct nod_ident *ident,
					nod_time time, enum nod_phase phase, unsigned bits)
{
	ident->bits += bits;
	track->span.bits += bits;
	track->bits_awake += phase == NOD_PHASE_USE ? 0 : bits;
	if (__builtin_expect(time.ns >= track->second.ns + NOD_NS_PER_S, 0))
		nod_track_begin_second(track, time);
	track->second_bits += bits;
}

/* When another sender speaks, the silence of all but the one before is over. It began
 * with the last frame before that one's first. Senders change with nearly every
 * frame or not at all, so there is no branch on it. */
static inline void nod_track_follow_run(struct nod_track *track, const struct nod_ident *ident,
					nod_time time, enum nod_phase phase)
{
	bool other = ident->owner != track->run_owner;

	if (__builtin_expect(time.ns - NOD_RUN_MIN_NS >= track->run_from.ns, 0) && other &&
	    phase == NOD_PHASE_LATE)
		nod_track_note_lone_run(track, time);
	track->run_from.ns = other ? track->last.ns : track->run_from.ns;
	track->run_owner = ident->owner;
	track->run_id = ident->id;
}

/* What comes before anything else about a frame; ident: its message, NULL where it has none. */
static inline int nod_track_reach(struct nod_track *track, struct nod_ident *ident, nod_time time,
				  enum nod_phase phase)
{
	/* Without a last frame, or with a later one, this is more than any quiet time. */
	uint64_t since = (uint64_t)time.ns - (uint64_t)track->last.ns;

	if (__builtin_expect(since >= (uint64_t)track->lull_ns || track->loss_pending, 0))
		return nod_track_take_turn(track, ident, time, phase);
	return 0;
}

/* Takes a data frame or remote request of an ident of this network, with its length on the
 * wire. `latest`: it is not earlier than any before; to be written as a constant.
 * Returns 0 or -ENOMEM. */
static inline __attribute__((always_inline)) int nod_track_take_ident(struct nod_track *track,
								      struct nod_ident *ident,
								      const struct nod_frame *frame,
								      enum nod_phase phase,
								      unsigned bits, bool latest)
{
	nod_time time = frame->time;
	int64_t interval = -1;

	if (nod_track_reach(track, ident, time, phase))
		return -ENOMEM;
	if (__builtin_expect(ident->span == track->serial, 1))
		interval = time.ns - ident->last.ns; /* < 0 for a step back: not sampled */
	else if (nod_track_meet(track, ident, time))
		return -ENOMEM;
	if (__builtin_expect(interval > NOD_MISSED_MIN_NS, 0))
		nod_track_note_missing(track, ident, time);
	track->frames++;
	track->span.frames++;
	nod_track_follow_run(track, ident, time, phase);
	if (phase == NOD_PHASE_LATE &&
	    __builtin_expect(interval > ident->pause || interval >= NOD_PAUSE_MIN_NS, 0))
		nod_track_note_pause(track, ident, interval);
	int status = nod_ident_take(ident, frame, phase, interval);
	if (latest || time.ns > ident->last.ns)
		ident->last = time;
	if (latest || time.ns > track->last.ns)
		track->last = track->span.to = time;
	nod_track_count_bits(track, ident, time, phase, bits);
	if (__builtin_expect(ident->protocols != 0, 0) &&
	    nod_track_note_protocols(track, ident, frame, phase))
		return -ENOMEM;
	return status;
}

#endif
