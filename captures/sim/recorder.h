/* SPDX-License-Identifier: MIT */
/* What is written down of it all, and what goes wrong with that: the
 * recording's start and end, lost frames, adapter gaps, clock steps, merged
 * networks out of order, the current logger with its own clock. */
#ifndef SIM_RECORDER_H
#define SIM_RECORDER_H

#include "sim.h"

/* Returns whether the frame got into the recording. */
bool sim_recorder_frame(struct sim *sim, int network, int64_t at, uint32_t id, const uint8_t *data,
			unsigned length);

/* Sets the recorder's timers: windows, samples, start and stop. */
void sim_recorder_begin(struct sim *sim);

/* Timers of the kinds MARK, SAMPLE, WINDOW, START and STOP. */
void sim_recorder_timer(struct sim *sim, const struct sim_timer *timer);

/* The next event that can be delivered once the simulation has come to
 * `horizon`; false: go on simulating. */
bool sim_recorder_deliver(struct sim *sim, int64_t horizon, struct nod_event *event);

/* The recording's clock at a simulation time. */
int64_t sim_recorder_stamp(const struct sim *sim, int64_t at);

void sim_recorder_free(struct sim_recorder *recorder);

/* The current clamp's reading now, microamps. */
int64_t sim_clamp_reading(struct sim *sim);

/* Journal kind of an action. */
enum nod_mark_kind sim_action_mark(enum sim_act act);

#endif
