/* SPDX-License-Identifier: MIT */
/* The awake spans of a network: begun, ended, kept, and the longest since the lock. */
#include "track-internal.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

static int keep_span(struct nod_track *track)
{
	if (track->span_count == NOD_SPANS_MAX) {
		track->spans_dropped++;
		return 0;
	}
	if (track->span_count == track->span_room) {
		size_t room = track->span_room ? track->span_room * 2 : 8;
		struct nod_span *spans = realloc(track->spans, room * sizeof(*spans));
		if (!spans)
			return -ENOMEM;
		track->spans = spans;
		track->span_room = room;
	}
	track->spans[track->span_count++] = track->span;
	return 0;
}

/* States what is known of the silence between the span's end and `now`. */
static void judge_silence(const struct nod_track *track, struct nod_span *span, nod_time now)
{
	bool doubt = nod_time_is_set(track->doubtful) && track->doubtful.ns >= span->to.ns;

	span->silence_from = track->loss_pending ? now : doubt ? track->doubtful : span->to;
	span->silence_known = span->silence_from.ns == span->to.ns && !track->loss_pending;
}

/* True when enough of it was listened to. */
static bool silence_is_sleep(const struct nod_track *track, const struct nod_span *span,
			     nod_time now)
{
	return nod_time_since(now, span->silence_from).ns >= track->quiet.ns;
}

/* Time of a span that counts: what lies before the lock does not. */
static int64_t length_since_lock(const struct nod_track *track, const struct nod_span *span)
{
	int64_t from = span->from.ns > track->lock.ns ? span->from.ns : track->lock.ns;

	return nod_time_is_set(track->lock) ? span->to.ns - from : -1;
}

static void remember_if_longest(struct nod_track *track)
{
	if (length_since_lock(track, &track->span) <= 0 ||
	    (track->held_serial &&
	     length_since_lock(track, &track->span) <= length_since_lock(track, &track->held)))
		return;
	track->held_serial = track->serial;
	track->held = track->span;
	for (uint32_t i = 0; i < track->speaker_count; i++) {
		struct nod_ident *ident = &track->idents.items[track->speakers[i]];
		ident->held_serial = track->serial;
		ident->held_last = ident->last;
		ident->held_request = ident->node ? ident->node->last_request : NOD_TIME_NONE;
		ident->held_ready = ident->node ? ident->node->last_ready : NOD_TIME_NONE;
		ident->held_request_from = ident->node ? ident->node->request_from : NOD_TIME_NONE;
	}
}

uint32_t nod_track_held(struct nod_track *track, struct nod_span *span)
{
	int64_t open = track->serial ? length_since_lock(track, &track->span) : -1;

	if (track->held_serial && length_since_lock(track, &track->held) >= open) {
		*span = track->held;
		return track->held_serial;
	}
	if (open <= 0)
		return 0;
	*span = track->span;
	nod_track_finish_span(track, span);
	return track->serial;
}

bool nod_track_held_ident(const struct nod_track *track, const struct nod_ident *ident,
			  uint32_t serial, struct nod_held_ident *held)
{
	if (serial == track->serial && ident->span == serial) {
		held->last = ident->last;
		held->request = ident->node ? ident->node->last_request : NOD_TIME_NONE;
		held->ready = ident->node ? ident->node->last_ready : NOD_TIME_NONE;
		held->request_from = ident->node ? ident->node->request_from : NOD_TIME_NONE;
		return true;
	}
	if (serial == track->serial || ident->held_serial != serial)
		return false;
	held->last = ident->held_last;
	held->request = ident->held_request;
	held->ready = ident->held_ready;
	held->request_from = ident->held_request_from;
	return true;
}

int nod_track_begin_span(struct nod_track *track, nod_time time)
{
	bool slept_before = false;

	if (track->serial) {
		judge_silence(track, &track->span, time);
		nod_track_finish_span(track, &track->span);
		remember_if_longest(track);
		slept_before = silence_is_sleep(track, &track->span, time);
		if (keep_span(track))
			return -ENOMEM;
	}
	memset(&track->span, 0, sizeof(track->span));
	track->span.from = track->span.to = time;
	track->span.slept_before = slept_before;
	track->span.lone_ident = NOD_NONE;
	track->span.moved = NOD_TIME_NONE;
	track->span.counted[0] = track->span.counted[1] = NOD_TIME_NONE;
	track->speaker_count = 0;
	track->run_owner = -1; /* nobody's: a stretch does not reach across a silence */
	track->run_from = time;
	track->serial++;
	return 0;
}

bool nod_track_current(struct nod_track *track, nod_time now, struct nod_span *span, bool *asleep)
{
	if (!track->serial)
		return false;
	*span = track->span;
	judge_silence(track, span, now);
	nod_track_finish_span(track, span);
	*asleep = silence_is_sleep(track, span, now);
	return true;
}

int nod_track_note_speaker(struct nod_track *track, struct nod_ident *ident, nod_time time)
{
	uint32_t index = (uint32_t)(ident - track->idents.items);

	if (track->speaker_count == track->speaker_room) {
		uint32_t room = track->speaker_room ? track->speaker_room * 2 : 64;
		uint32_t *speakers = realloc(track->speakers, room * sizeof(*speakers));
		if (!speakers)
			return -ENOMEM;
		track->speakers = speakers;
		track->speaker_room = room;
	}
	track->speakers[track->speaker_count++] = index;
	ident->span = track->serial;
	ident->span_first = time;
	if (track->span.first_count < NOD_SPAN_STARTERS)
		track->span.first[track->span.first_count++] = (struct nod_speaker){(int)index,
										    time};
	return 0;
}

void nod_track_unheard(struct nod_track *track, nod_time from)
{
	struct nod_span span = track->span;

	if (!track->serial || track->slept_serial == track->serial)
		return;
	judge_silence(track, &span, from);
	if (!silence_is_sleep(track, &span, from))
		return;
	track->slept_serial = track->serial;
	track->slept_until = from;
}
