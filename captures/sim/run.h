/* SPDX-License-Identifier: MIT */
/* Running a simulated car. */
#ifndef SIM_RUN_H
#define SIM_RUN_H

#include "sim.h"

/* Sets everything going; call once the situation is laid out. */
void sim_begin(struct sim *sim);

/* Does what comes next; false when the recording is over (or memory ran out). */
bool sim_step(struct sim *sim);

/* Releases what the simulation holds, not `sim` itself. */
void sim_free(struct sim *sim);

/* Adds something that the person does; returns it for adjustment, or NULL when
 * the table is full. `subject` as the act wants it, -1: none. */
struct sim_action *sim_add_action(struct sim *sim, enum sim_act act, int64_t at, int subject);

/* Sets an action's timers; sim_begin() does it for those added before. */
void sim_schedule_action(struct sim *sim, int index);

/* The parts that act by themselves. */
void sim_action_timer(struct sim *sim, const struct sim_timer *timer);
void sim_fault_timer(struct sim *sim, const struct sim_timer *timer);
void sim_fault_begin(struct sim *sim);
void sim_gateway_timer(struct sim *sim, const struct sim_timer *timer);
void sim_tester_timer(struct sim *sim, const struct sim_timer *timer);
void sim_pulse_timer(struct sim *sim, const struct sim_timer *timer);

#endif
