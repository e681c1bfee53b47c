/* SPDX-License-Identifier: MIT */
/* The culprit: what makes a module hold or wake its network. */
#include "bus.h"
#include "node.h"
#include "run.h"

static int64_t next_interval(struct sim *sim, const struct sim_fault *fault)
{
	if (fault->sporadic)
		return sim_random_spread(&sim->course, fault->interval / 4, fault->interval * 2);
	return fault->interval +
	       sim_random_range(&sim->course, -fault->interval, fault->interval) / 12;
}

void sim_fault_begin(struct sim *sim)
{
	for (int i = 0; i < sim->fault_count; i++) {
		sim_timers_push(&sim->timers, sim->faults[i].from, SIM_TIMER_FAULT, i, 0);
		bool ends = sim->faults[i].kind == SIM_FAULT_HOLDER ||
			    sim->faults[i].kind == SIM_FAULT_RESTART;
		if (ends && sim->faults[i].until != SIM_NEVER)
			sim_timers_push(&sim->timers, sim->faults[i].until, SIM_TIMER_FAULT, i, 0);
	}
}

/* The first frame of its first message, without any wish to stay awake. */
static void send_one(struct sim *sim, int module)
{
	int n = sim->modules[module].first_node;
	const struct sim_node *node = &sim->nodes[n];
	const struct sim_message *message = &sim->messages[node->first_message];

	if (node->state == SIM_ASLEEP)
		sim_bus_send(sim, node->network, n, message->id, message->payload.data,
			     message->payload.length);
}

static void start_all(struct sim *sim, int network)
{
	for (int i = 0; i < sim->node_count; i++)
		if (sim->nodes[i].network == network && sim->nodes[i].state == SIM_ASLEEP)
			sim_node_wake(sim, i, false);
}

static void use(struct sim *sim, const struct sim_fault *fault)
{
	if (sim_state_awake(sim->nodes[sim->modules[fault->module].first_node].state))
		sim_module_need(sim, fault->module, sim->now + fault->hold);
}

/* It flips and says so, mostly at once; a contact that comes and goes bounces. Returns
 * when it flips next. */
static int64_t flip(struct sim *sim, const struct sim_fault *fault)
{
	int first = sim->nodes[sim->modules[fault->module].first_node].first_message;
	struct sim_message *message = &sim->messages[first];
	int bit = message->payload.toggle_bit;

	if (bit < 0)
		return SIM_MIN;
	sim_payload_flip(&message->payload);
	if (fault->tells)
		sim_message_send(sim, first);
	if (sim_random_chance(&sim->course, 40))
		return sim_random_range(&sim->course, 8, 120) * SIM_MS;
	return next_interval(sim, fault);
}

void sim_fault_timer(struct sim *sim, const struct sim_timer *timer)
{
	const struct sim_fault *fault = &sim->faults[timer->index];

	if (fault->kind == SIM_FAULT_HOLDER) {
		sim_module_hold(sim, fault->module, sim->now < fault->until);
		return;
	}
	if (fault->kind == SIM_FAULT_RESTART) {
		sim->modules[fault->module].unplugged = sim->now < fault->until;
		sim_module_power(sim, fault->module);
		return;
	}
	if (fault->kind == SIM_FAULT_BUS_OFF) {
		sim_managed_bus_off(sim, sim->modules[fault->module].first_node);
		return;
	}
	if (sim->now >= fault->until)
		return;
	if (fault->kind == SIM_FAULT_INPUT) {
		sim_set_timer(sim, flip(sim, fault), SIM_TIMER_FAULT, timer->index, 0);
		return;
	}
	if (fault->kind == SIM_FAULT_FRAME)
		send_one(sim, fault->module);
	else if (fault->kind == SIM_FAULT_LINE)
		start_all(sim, sim->story.network);
	else if (fault->kind == SIM_FAULT_USER)
		use(sim, fault);
	else
		sim_module_need(sim, fault->module, sim->now + fault->hold);
	sim_set_timer(sim, next_interval(sim, fault), SIM_TIMER_FAULT, timer->index, 0);
}
