/* SPDX-License-Identifier: MIT */
/* How a stretch of traffic began and ended: clues to what the silence beside it was.
 *
 * A network that goes to sleep does so in order: messages stop one after the other, network
 * management is released, few speak at the end. One that wakes begins with one sender, and
 * the others start when they have booted. Where instead nobody listened (power, adapter, a
 * new file, a stalled USB port, a pulled plug), all messages stop at once, each within its
 * period, and all are back within one period. judge/holes.c weighs these clues over all
 * networks of the recording.
 *
 * Both weights are natural log-odds. What they are made of was argued, and tried on generated
 * cars (seeds below 1000) and on recordings of real vehicles cut at random. */
#ifndef NOD_SILENCE_H
#define NOD_SILENCE_H

#include <stdbool.h>
#include <stdint.h>

#include "timestamp.h"

struct nod_track;
struct nod_span;
struct nod_ident;
struct nod_period;

struct nod_silence_clues {
	float fade; /* how it ended: > 0 in order, < 0 cut off */
	float boot; /* how it began: > 0 as networks wake, < 0 in the middle of its rhythm */
	float kept; /* > 0: messages are in the rhythm they had before, so nobody slept; < 0: not */
	uint32_t beat_us; /* the shortest period of what ran to its end; 0: nothing cyclic did */
	uint16_t running; /* cyclic messages that ran to its end */
	uint16_t early;   /* messages heard within NOD_SILENCE_BOOT_NS of its begin */
};

/* Modules that are woken have all begun to speak by then: start-up of a control unit takes
 * some hundred ms, of a slow one a second or two. Common practice, no source. */
#define NOD_SILENCE_BOOT_NS (3 * NOD_NS_PER_S)

/* Messages of longer periods say little about a begin. Chosen: cyclic control traffic. */
#define NOD_SILENCE_START_PERIOD_NS (1050 * NOD_NS_PER_MS)

/* How the first frame of a message after a silence, at `time`, fits the rhythm of its last
 * span, which ended at `end`: as struct nod_ident's `phase`. Its record is still that of the last
 * span. One that had stopped before the others tells nothing. */
float nod_silence_phase(const struct nod_ident *ident, nod_time end, nod_time time);

/* True for a cyclic message that was last heard `age` ns ago and is not overdue. */
bool nod_silence_is_running(const struct nod_period *period, int64_t age);

/* Called about once a second: how much came at the begin of the running span. */
void nod_silence_count(struct nod_track *track, nod_time time);

/* True when the track's running span began with what had waited for a stalled adapter; `span` is
 * that one, finished or as it stands. `cyclic`: some of it is. */
bool nod_silence_is_burst(const struct nod_track *track, const struct nod_span *span, bool cyclic);

/* Fills span->clues from what the messages of the track's running span did; `span` is that
 * one, finished or as it stands. */
void nod_silence_look(const struct nod_track *track, struct nod_span *span);

#endif
