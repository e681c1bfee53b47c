/* SPDX-License-Identifier: MIT */
/* The session that is being watched: the events in time order, into the
 * recording and into the analysis, the same events into both.
 *
 * The analysis always runs; a recording may or may not. Both begin together,
 * so that the findings are those of the recording read again later. */
#ifndef NOD_LIVE_H
#define NOD_LIVE_H

#include <limits.h>
#include <stdbool.h>

#include "engine.h"
#include "error.h"
#include "event.h"
#include "rebuild.h"
#include "recorder.h"
#include "source.h"

struct nod_live {
	const char *vehicle_path; /* NULL: none */
	struct nod_interfaces *interfaces;
	struct nod_vehicle *vehicle;
	struct nod_engine *engine;
	struct nod_recorder *recorder; /* NULL: not recording */
	char directory[PATH_MAX];      /* of the session being recorded, or "" */
	nod_time started;              /* of this watch */
	struct nod_rebuild *rebuild;   /* a new analysis is being made; NULL: none */
	struct nod_vehicle *rebuild_vehicle;
	uint64_t samples; /* of the current, taken while recording */
	bool starved;     /* memory ran out: the analysis lacks something that the recording has */
	int64_t current_ua;  /* last sample, microamps */
	nod_time current_at; /* NOD_TIME_NONE: none yet */
};

/* Begins to watch without recording. `interfaces` must outlive it and keep its
 * order. Returns 0 or a negative errno with err set (a vehicle file that
 * cannot be read). */
int nod_live_open(struct nod_live *live, const char *vehicle_path,
		  struct nod_interfaces *interfaces, nod_time now, struct nod_error *err);

/* Ends everything, the recording too. */
void nod_live_close(struct nod_live *live, nod_time now);

/* Begins a session in the directory `path`, which must not exist: a new
 * recording and a new analysis. On failure the old watch goes on. Returns 0 or
 * a negative errno with err set. `clock`: which clock stamps the frames. */
int nod_live_record(struct nod_live *live, const char *path, const char *title, const char *clock,
		    nod_time now, struct nod_error *err);

/* Ends the recording; the analysis stands at its end and takes nothing more
 * until nod_live_renew(). Returns 0 or a negative errno with err set: then the
 * last second may not be on the disk. */
int nod_live_finish(struct nod_live *live, nod_time now, struct nod_error *err);

/* Begins a new analysis without a recording. When memory ran out, the old one
 * goes on, starved. */
void nod_live_renew(struct nod_live *live, nod_time now);

/* Takes one event. Returns 0, or a negative errno when it could not be kept:
 * for a mark, when it is not on the disk. The analysis has it in any
 * case. */
int nod_live_take(struct nod_live *live, const struct nod_event *event);

/* Takes marks of the past, or such as take others back ("undone"): they are on the disk
 * when this returns 0, and the analysis is made anew from the recording, see
 * nod_live_follow(). Else a negative errno with err set; the first of several may then be
 * on the disk. */
int nod_live_correct(struct nod_live *live, const struct nod_mark *marks, size_t count,
		     nod_time now, struct nod_error *err);

/* Goes on with the new analysis by about so many events. Returns 1 while there is more to
 * do, 0 when the analysis shown is the new one, or a negative errno with err set: the old one
 * goes on, and only the recording, read again, follows the correction. */
int nod_live_follow(struct nod_live *live, size_t events, struct nod_error *err);

/* Time went on until `now`; call once a second. Returns what the flush of the
 * recording says. */
int nod_live_tick(struct nod_live *live, nod_time now);

#endif
