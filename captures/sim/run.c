/* SPDX-License-Identifier: MIT */
#include "run.h"

#include "node.h"
#include "recorder.h"

#define GATEWAY_POLL (200 * SIM_MS)

/* The car is in use until the lock; then each module needs its own time. */
static void begin_in_use(struct sim *sim)
{
	for (int m = 0; m < sim->module_count; m++)
		sim_module_load(sim, m);
	for (int i = 0; i < sim->node_count; i++) {
		sim_node_set_state(sim, i, SIM_ASLEEP);
		sim_node_wake(sim, i, false);
		sim_node_need(sim, i, sim->lock + sim->modules[sim->nodes[i].module].ready_after);
	}
}

void sim_begin(struct sim *sim)
{
	sim_managed_begin(sim);
	begin_in_use(sim);
	for (int i = 0; i < sim->action_count; i++)
		sim_schedule_action(sim, i);
	sim_fault_begin(sim);
	if (sim->gateway >= 0)
		sim_set_timer(sim, GATEWAY_POLL, SIM_TIMER_GATEWAY, 0, 0);
	if (sim->pulse_every)
		sim_set_timer(sim, sim->pulse_every, SIM_TIMER_PULSE, 0, 0);
	sim_recorder_begin(sim);
}

/* Units beyond the gateway learn through it that somebody needs the car. */
static bool wanted_on(const struct sim *sim, int network)
{
	for (int i = 0; i < sim->node_count; i++) {
		const struct sim_node *node = &sim->nodes[i];
		if (node->network == network && node->module != sim->gateway && node->wants &&
		    sim_state_awake(node->state))
			return true;
	}
	return false;
}

void sim_gateway_timer(struct sim *sim, const struct sim_timer *timer)
{
	const struct sim_module *gateway = &sim->modules[sim->gateway];
	bool wanted[SIM_NETWORKS] = {false};

	(void)timer;
	for (int n = 0; n < sim->network_count; n++)
		wanted[n] = wanted_on(sim, n);
	for (int k = 0; k < gateway->node_count; k++) {
		struct sim_node *node = &sim->nodes[gateway->first_node + k];
		node->spread = false;
		for (int n = 0; n < sim->network_count && !sim->independent; n++)
			node->spread |= n != node->network && wanted[n];
		sim_node_review(sim, gateway->first_node + k);
	}
	sim_set_timer(sim, GATEWAY_POLL, SIM_TIMER_GATEWAY, 0, 0);
}

/* A telematics unit that reports itself at times: current, no traffic. */
void sim_pulse_timer(struct sim *sim, const struct sim_timer *timer)
{
	bool on = sim->pulse_ua == 0 && sim->modules[sim->pulse_module].powered;

	(void)timer;
	sim->pulse_ua = on ? sim_random_range(&sim->course, 80, 240) * 1000 : 0;
	sim_set_timer(sim, on ? sim->pulse_length : sim->pulse_every - sim->pulse_length,
		      SIM_TIMER_PULSE, 0, 0);
}

static void dispatch(struct sim *sim, const struct sim_timer *timer)
{
	switch (timer->kind) {
	case SIM_TIMER_MESSAGE:
		sim_message_timer(sim, timer);
		break;
	case SIM_TIMER_GATEWAY:
		sim_gateway_timer(sim, timer);
		break;
	case SIM_TIMER_FAULT:
		sim_fault_timer(sim, timer);
		break;
	case SIM_TIMER_ACTION:
		sim_action_timer(sim, timer);
		break;
	case SIM_TIMER_TESTER:
		sim_tester_timer(sim, timer);
		break;
	case SIM_TIMER_EXTRA:
		sim_module_load(sim, timer->index);
		break;
	case SIM_TIMER_PULSE:
		sim_pulse_timer(sim, timer);
		break;
	case SIM_TIMER_MARK:
	case SIM_TIMER_SAMPLE:
	case SIM_TIMER_WINDOW:
	case SIM_TIMER_START:
	case SIM_TIMER_STOP:
		sim_recorder_timer(sim, timer);
		break;
	default:
		sim_node_timer(sim, timer);
	}
}

bool sim_step(struct sim *sim)
{
	struct sim_timer timer;

	if (sim->recorder.stopped || sim->recorder.failed || sim->timers.failed ||
	    !sim_timers_pop(&sim->timers, &timer))
		return false;
	sim->now = timer.at;
	dispatch(sim, &timer);
	return true;
}

void sim_free(struct sim *sim)
{
	sim_timers_free(&sim->timers);
	sim_recorder_free(&sim->recorder);
}
