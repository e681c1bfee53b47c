/* SPDX-License-Identifier: MIT */
/* Helpers for laying out a situation. */
#ifndef SIM_STAGE_H
#define SIM_STAGE_H

#include "invent.h"
#include "run.h"

struct sim_situation {
	const char *name, *help;
	struct sim_wish wish;
	/* Lays out faults, actions and recording; the clock is set already. */
	void (*lay_out)(struct sim *sim, int network);
};

extern const struct sim_situation sim_situations[];
extern const size_t sim_situation_count;

/* Lock time, recording's start, lock mark, clamp: what varies everywhere. */
void sim_stage_clock(struct sim *sim);

/* The recording ends so long after the settle deadline. */
void sim_stage_end_after_deadline(struct sim *sim, int64_t after);
int64_t sim_stage_deadline(const struct sim *sim);

/* A module on the network that may be the culprit (no gateway, no airbag, no
 * high voltage) and is none of the culprits so far; -1: there is none. */
int sim_stage_pick(struct sim *sim, int network);

/* Adds a fault and its module to the story. */
struct sim_fault *sim_stage_hold(struct sim *sim, int module);
struct sim_fault *sim_stage_wake(struct sim *sim, int module, int64_t interval, int64_t hold);

/* Who is passive cannot ask for the network; this one can. */
void sim_stage_let_ask(struct sim *sim, int module);

/* A module that needs its network all the time, rightly: nobody's fault. */
void sim_stage_need(struct sim *sim, int module);

/* Lets a module need its network for that part of the time given. */
void sim_stage_slow(struct sim *sim, int module, int64_t percent);

struct sim_window *sim_stage_window(struct sim *sim, enum sim_window_kind kind, int64_t from,
				    int64_t until);

/* In some cars an innocent module uses the network now and then for a few
 * seconds while a holder keeps it awake anyway. */
void sim_stage_users(struct sim *sim);

/* The culprit has several cyclic messages, and the others on the network thin out. */
bool sim_stage_stands_out(const struct sim *sim, int network);

/* How traffic on a network tells who holds it; sets determined and why. */
void sim_stage_explain_holder(struct sim *sim, int network);

__attribute__((format(printf, 2, 3))) void sim_stage_why(struct sim *sim, const char *format, ...);
__attribute__((format(printf, 2, 3))) void sim_stage_note(struct sim *sim, const char *format, ...);

/* Verdict and role in one line. */
void sim_stage_story(struct sim *sim, const char *verdict, const char *role);

/* seconds, minutes: short forms for drawing a duration. */
int64_t sim_stage_seconds(struct sim *sim, int64_t first, int64_t last);

/* The situations. */
void sim_lay_healthy(struct sim *sim, int network);
void sim_lay_healthy_slow(struct sim *sim, int network);
void sim_lay_slow_infotainment(struct sim *sim, int network);
void sim_lay_telematics(struct sim *sim, int network);
void sim_lay_current_high(struct sim *sim, int network);
void sim_lay_holder(struct sim *sim, int network);
void sim_lay_spread(struct sim *sim, int network);
void sim_lay_two_holders(struct sim *sim, int network);
void sim_lay_two_networks(struct sim *sim, int network);
void sim_lay_staggered(struct sim *sim, int network);
void sim_lay_payload(struct sim *sim, int network);
void sim_lay_hangs(struct sim *sim, int network);
void sim_lay_unusual_period(struct sim *sim, int network);
void sim_lay_stuck_input(struct sim *sim, int network);
void sim_lay_input_toggles(struct sim *sim, int network);
void sim_lay_input_sticks(struct sim *sim, int network);
void sim_lay_pauses(struct sim *sim, int network);
void sim_lay_limp_home(struct sim *sim, int network);
void sim_lay_gateway_holder(struct sim *sim, int network);
void sim_lay_hidden(struct sim *sim, int network);
void sim_lay_waker(struct sim *sim, int network);
void sim_lay_sporadic(struct sim *sim, int network);
void sim_lay_waker_gateway(struct sim *sim, int network);
void sim_lay_frame_waker(struct sim *sim, int network);
void sim_lay_wake_line(struct sim *sim, int network);
void sim_lay_waker_missed(struct sim *sim, int network);
void sim_lay_tester(struct sim *sim, int network);
void sim_lay_tester_unanswered(struct sim *sim, int network);
void sim_lay_door(struct sim *sim, int network);
void sim_lay_disturbance(struct sim *sim, int network);
void sim_lay_isolation_right(struct sim *sim, int network);
void sim_lay_isolation_wrong(struct sim *sim, int network);
void sim_lay_isolation_search(struct sim *sim, int network);
void sim_lay_isolation_brief(struct sim *sim, int network);
void sim_lay_unplugged(struct sim *sim, int network);
void sim_lay_not_in_map(struct sim *sim, int network);
void sim_lay_map_holes(struct sim *sim, int network);
void sim_lay_map_wrong(struct sim *sim, int network);
void sim_lay_frames_lost(struct sim *sim, int network);
void sim_lay_too_short(struct sim *sim, int network);
void sim_lay_storm(struct sim *sim, int network);
void sim_lay_clock_step(struct sim *sim, int network);
void sim_lay_adapter(struct sim *sim, int network);
void sim_lay_merged(struct sim *sim, int network);
void sim_lay_power_lost(struct sim *sim, int network);
void sim_lay_adapter_drops(struct sim *sim, int network);
void sim_lay_rotation(struct sim *sim, int network);
void sim_lay_usb_stall(struct sim *sim, int network);
void sim_lay_plug_pulled(struct sim *sim, int network);
void sim_lay_in_use(struct sim *sim, int network);
void sim_lay_never_parked(struct sim *sim, int network);
void sim_lay_operator(struct sim *sim, int network);
void sim_lay_bench(struct sim *sim, int network);
void sim_lay_relay_master(struct sim *sim, int network);
void sim_lay_management_dead(struct sim *sim, int network);
void sim_lay_limp_beside(struct sim *sim, int network);
void sim_lay_bus_off(struct sim *sim, int network);
void sim_lay_restarts(struct sim *sim, int network);
void sim_lay_coordinator(struct sim *sim, int network);
void sim_lay_nm_alike(struct sim *sim, int network);

#endif
