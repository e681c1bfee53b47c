/* SPDX-License-Identifier: MIT */
/* Networks that are woken again. */
#include "stage.h"

static struct sim_fault *wake_on(struct sim *sim, int network, int64_t interval)
{
	int64_t hold = sim_stage_seconds(sim, sim->small ? 2 : 4, sim->small ? 6 : 70);

	sim_stage_story(sim, "woken again", "waker");
	sim_stage_why(sim, "it speaks first in the wake-ups");
	struct sim_fault *fault = sim_stage_wake(sim, sim_stage_pick(sim, network), interval, hold);
	/* Woken units without management run on for their own time. */
	for (int i = 0; i < sim->node_count; i++)
		if (sim->nodes[i].run_time > interval / 4)
			sim->nodes[i].run_time = interval / 4;
	return fault;
}

void sim_lay_waker(struct sim *sim, int network)
{
	int64_t interval = sim->small ? 50 * SIM_S : sim_stage_seconds(sim, 180, 900);

	wake_on(sim, network, interval);
	sim_stage_end_after_deadline(sim, interval * sim_random_range(&sim->course, 2, 5));
}

/* One spurious application frame is enough to wake a sleeping network. */
void sim_lay_frame_waker(struct sim *sim, int network)
{
	sim_lay_waker(sim, network);
	sim->faults[0].kind = SIM_FAULT_FRAME;
	sim_stage_note(sim, "it sends one frame each time and nothing else");
}

/* A wake-up line or a supply that comes and goes starts all units of a network
 * at once: the one that boots fastest speaks first every time and is innocent. */
void sim_lay_wake_line(struct sim *sim, int network)
{
	sim_lay_waker(sim, network);
	sim->faults[0].kind = SIM_FAULT_LINE;
	sim->story.culprit_count = 0;
	sim->story.determined = false;
	sim_stage_story(sim, "woken again", "wake-line");
	sim_stage_why(sim, "all units of %s start at once; who speaks first only boots fastest",
		      sim->networks[network].name);
}

void sim_lay_sporadic(struct sim *sim, int network)
{
	int64_t interval = sim->small ? 40 * SIM_S : sim_stage_seconds(sim, 300, 900);

	struct sim_fault *fault = wake_on(sim, network, interval);
	fault->sporadic = true;
	sim_stage_end_after_deadline(sim, interval * 3);
}

void sim_lay_waker_gateway(struct sim *sim, int network)
{
	sim_lay_waker(sim, network);
	sim_stage_note(sim, "the gateway wakes the other networks after %s",
		       sim->networks[network].name);
}

/* The adapter itself must wake up and misses how each wake-up begins. */
void sim_lay_waker_missed(struct sim *sim, int network)
{
	sim_lay_waker(sim, network);
	sim->recorder.wake_deaf = sim_random_spread(&sim->course, 3, 400) * SIM_MS;
	sim_stage_note(sim, "the adapter misses the first %d ms of each wake-up",
		       (int)(sim->recorder.wake_deaf / SIM_MS));
}
