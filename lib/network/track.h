/* SPDX-License-Identifier: MIT */
/* The track of one network through a session: when it was awake, who spoke
 * first and last, what its messages did. Internal to the engine. */
#ifndef NOD_TRACK_H
#define NOD_TRACK_H

#include <stdbool.h>
#include <stdint.h>

#include "findings.h"
#include "frame.h"
#include "ident.h"
#include "nm-detect.h"
#include "sender.h"
#include "silence.h"
#include "vehicle.h"

struct nod_span {
	nod_time from, to;     /* first and last frame */
	bool slept_before;     /* true silence was heard before it */
	bool silence_known;    /* the silence after it was listened to throughout */
	nod_time silence_from; /* from here on it was (== to when silence_known) */
	uint64_t frames, bits, errors;
	uint8_t first_count, last_count;
	struct nod_speaker first[NOD_SPAN_STARTERS], last[NOD_SPAN_SPEAKERS];
	int lone_ident;           /* a message of who was alone at its end, NOD_NONE: nobody was */
	nod_time lone_from;       /* the last frame of anybody else, or `from` */
	int requester;            /* the node that requested it longest by far, NOD_NONE */
	int active_wakers[2];     /* idents whose NM says that they woke it, -1: none */
	nod_time counted[2];      /* some 1 and 4 s after its begin; NONE: not yet */
	uint64_t counted_bits[2]; /* its bits until then */
	bool began_moving;        /* engine or vehicle ran when it began */
	nod_time moved;           /* the last frame that said so; NONE: none did */
	bool backlog;             /* it began with frames that had waited */
	struct nod_silence_clues clues; /* to the silences before and after it */
};

/* Awake spans kept of one network; further ones are counted and said. A span is 0.5 KB,
 * so 50 MB. Chosen: a wake-up every minute for ten weeks. */
#define NOD_SPANS_MAX 100000

/* After a longer interval a message may have been missed. Chosen: above two periods of the slowest
 * messages of network management (a second), so that one lost frame is none. */
#define NOD_MISSED_MIN_NS (2 * NOD_NS_PER_S)

struct nod_past;
struct nod_engine;

struct nod_track {
	int network;             /* index into the vehicle's networks */
	nod_duration quiet;      /* silence that counts as asleep */
	int64_t lull_ns;         /* silence that is looked at: a lull, at most the quiet time */
	struct nod_nm_layout nm; /* from the vehicle file or detected */
	struct nod_nm_detect *detector; /* NULL: the vehicle file says it all */
	struct nod_nm_detection found;  /* what `nm` was adopted from; valid when it was */
	uint64_t searched, ask_at;      /* frames in which it was looked for; when to ask again */
	uint64_t asked;                 /* of these, when it was asked last */
	double nm_confidence;           /* 1 when the vehicle file says so, 0: nothing found */
	struct nod_idents idents;
	const struct nod_vehicle *vehicle;
	struct nod_past *past;     /* told of pauses, once a second; NULL: nobody is */
	struct nod_engine *engine; /* told when the car is in use; NULL: nobody */

	struct nod_span *spans; /* closed ones, in time order */
	size_t span_count, span_room;
	uint64_t spans_dropped; /* beyond NOD_SPANS_MAX: counted only */
	struct nod_span span;   /* the open one, when serial != 0 */
	uint32_t serial;        /* of the open span; 0: nothing heard yet */
	uint32_t *speakers;     /* idents that spoke in it, in that order */
	uint32_t speaker_count, speaker_room;

	/* The longest awake span since the lock: what holds the network shows there. */
	uint32_t held_serial; /* 0: none closed yet */
	struct nod_span held;

	/* The running stretch of frames of one sender: whose, since when all others are
	 * silent, and the last message in it. */
	int64_t run_owner;
	nod_time run_from;
	uint32_t run_id;

	nod_time last;         /* last frame */
	nod_time lock;         /* NOD_TIME_NONE: not locked yet */
	nod_time doubtful;     /* last loss, gap or clock step: silence before it is unknown */
	uint32_t slept_serial; /* of the span after which it slept until nobody listened */
	nod_time slept_until;  /* when that was */
	bool loss_pending;     /* frames were lost at some moment before the next frame */
	nod_time second;       /* begin of the whole second being counted */
	uint64_t second_bits, last_second_bits;
	bool tester_heard; /* a diagnostic request under a standardised ID */
	uint64_t frames, errors, lost;
	uint64_t unkept;     /* frames of IDs for which there was no room */
	uint64_t bits_awake; /* since the lock */
};

int nod_track_init(struct nod_track *track, int network, const struct nod_vehicle *vehicle);
void nod_track_clear(struct nod_track *track);

/* Takes a frame or error report of this network. Returns 0 or -ENOMEM. */
int nod_track_take(struct nod_track *track, const struct nod_frame *frame, enum nod_phase phase);

/* From here back to the last frame, nothing is known about this network. */
void nod_track_doubt(struct nod_track *track, nod_time time);

/* Nobody listens from here on: remembers whether it slept. */
void nod_track_unheard(struct nod_track *track, nod_time from);

/* Frames were lost: silence up to the next frame is unknown. */
void nod_track_lost(struct nod_track *track, uint64_t count);

/* The car was locked (again): what was tallied before counts as use. */
void nod_track_locked(struct nod_track *track, nod_time time);

/* Works out anew what the IDs of messages say about them. */
void nod_track_place_all(struct nod_track *track);

/* The open span as it stands at `now`, with its last speakers; closed with
 * its silence when that is longer than the quiet time. False when nothing was
 * ever heard. *asleep: it is over, and silence was heard for the quiet time. */
bool nod_track_current(struct nod_track *track, nod_time now, struct nod_span *span, bool *asleep);

/* The longest awake span since the lock, the open one included, and its
 * serial; 0: there is none. For idents, nod_track_held_last() etc. speak of
 * that span. */
uint32_t nod_track_held(struct nod_track *track, struct nod_span *span);

/* What an ident did in the span with this serial (as nod_track_held() gave
 * it): false when it did not speak in it. */
struct nod_held_ident {
	nod_time last, request, ready, request_from;
};
bool nod_track_held_ident(const struct nod_track *track, const struct nod_ident *ident,
			  uint32_t serial, struct nod_held_ident *held);

/* The sender of a message, as far as is known by now. */
struct nod_sender nod_track_sender(const struct nod_track *track, const struct nod_ident *ident);

#endif
