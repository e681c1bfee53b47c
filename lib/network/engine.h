/* SPDX-License-Identifier: MIT */
/* The engine: takes what happened in time order, and says what it means.
 *
 * It reads no clock, opens nothing and prints nothing; the same events give
 * the same findings, byte for byte, live or replayed. Memory grows with the
 * number of IDs and marks, and up to a limit with that of awake spans (what is
 * beyond is counted only), never with the number of frames.
 *
 *     engine = nod_engine_new(vehicle, &interfaces);
 *     while (nod_source_next(source, &event, &err) > 0)
 *             nod_engine_take(engine, event);
 *     nod_engine_advance(engine, end);
 *     findings = nod_engine_findings(engine);
 */
#ifndef NOD_ENGINE_H
#define NOD_ENGINE_H

#include "event.h"
#include "findings.h"
#include "known.h"
#include "source.h"
#include "vehicle.h"

struct nod_engine;

/* Vehicle and interfaces must outlive the engine; interfaces may grow while
 * it runs. Interfaces that no network of the vehicle claims are appended to it
 * as networks of their own with the defaults of vehicle.h. vehicle NULL:
 * nothing is known, the engine makes an empty one. NULL when memory ran out. */
struct nod_engine *nod_engine_new(struct nod_vehicle *vehicle,
				  const struct nod_interfaces *interfaces);
void nod_engine_free(struct nod_engine *engine);

/* States when the car was locked; call before the first event that is not
 * earlier. A mark "locked" that comes later replaces it. */
void nod_engine_set_lock(struct nod_engine *engine, nod_time lock, enum nod_lock_source source);

/* Other recordings to judge by; NULL ends it. They must outlive the engine's
 * findings. good: of the same or a like car when it slept as it should.
 * earlier: of this car; what was isolated there counts here as well. At most
 * NOD_EARLIER_MAX earlier ones: -ENOSPC beyond. */
#define NOD_EARLIER_MAX 32
void nod_engine_set_good(struct nod_engine *engine, const struct nod_findings *good);
int nod_engine_add_earlier(struct nod_engine *engine, const struct nod_findings *earlier);

/* What other recordings of this and of like cars say; NULL: nothing. It must outlive the engine's
 * findings. Who was it in like cars counts a little, and never so that it alone carries anybody
 * over one half. */
void nod_engine_set_known(struct nod_engine *engine, const struct nod_known *known);

/* Takes one event. Events come in time order; a frame a little earlier than
 * the one before (a recorder that merged two networks) is taken as it is.
 * Defects are counted, headers ignored but for the keys "locked" and
 * "ended" (at the head of a capture it counts from the next findings on, unless
 * nod_engine_advance() has told another time by then). Returns 0, -ERANGE for an
 * impossible time (before 1843 or after 2096, left out) or -ENOMEM (the event is
 * then lost, the engine usable). */
int nod_engine_take(struct nod_engine *engine, const struct nod_event *event);

/* Takes frames that come one after another: the same as one event for each, and
 * quicker. Frames with impossible times are left out. Returns 0 or -ENOMEM (some
 * of the frames are then lost, the engine usable). */
int nod_engine_take_frames(struct nod_engine *engine, const struct nod_frame *frames, size_t count);

/* Says that the recording has gone on until `now`: silence up to then was
 * listened to. A time in the past is ignored. */
void nod_engine_advance(struct nod_engine *engine, nod_time now);

/* What was added to the time of the last event taken, to make up for steps of the
 * recording's clock: the times of the findings carry it. */
nod_duration nod_engine_clock_shift(const struct nod_engine *engine);

/* What is known now; callable at any time and as often as wanted; changes
 * nothing. NULL when memory ran out. Free with nod_findings_free() before
 * the engine. */
struct nod_findings *nod_engine_findings(struct nod_engine *engine);

#endif
