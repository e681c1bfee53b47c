/* SPDX-License-Identifier: MIT */
/* AUTOSAR CanNm: repeat message, normal operation, ready sleep, prepare
 * bus-sleep, bus-sleep. States and what each sends as in an open stack's
 * CanNm.c and an open CanNm manual; control bits as a protocol analyser's
 * AUTOSAR-NM dissector lists them for release 4.1. */
#include <string.h>

#include "bus.h"
#include "node.h"

#define CONTROL_REPEAT_REQUEST 0x01
#define CONTROL_ACTIVE_WAKEUP 0x10
#define CONTROL_PARTIAL_INFO 0x40

static void start_cycle(struct sim *sim, int i, int64_t after)
{
	struct sim_node *node = &sim->nodes[i];

	if (node->cycling)
		return;
	node->cycling = true;
	sim_set_timer(sim, after, SIM_TIMER_NM_CYCLE, i, node->generation);
}

static void enter_repeat(struct sim *sim, int i)
{
	struct sim_node *node = &sim->nodes[i];
	const struct sim_nm_timers *t = &sim->networks[node->network].timers;
	int64_t first = node->active ? 0 : sim_random_range(&sim->detail, 0, t->cycle / 2);

	node->generation++;
	node->cycling = false;
	node->immediate_left = node->active ? t->immediate : 0;
	node->nm_deadline = sim->now + t->timeout;
	sim_node_set_state(sim, i, SIM_REPEAT);
	start_cycle(sim, i, first);
	sim_set_timer(sim, t->repeat, SIM_TIMER_NM_REPEAT_END, i, node->generation);
	sim_set_timer(sim, t->timeout, SIM_TIMER_NM_TIMEOUT, i, node->generation);
	if (!node->application_on)
		sim_set_timer(sim, first + t->first_application, SIM_TIMER_APPLICATION, i,
			      node->generation);
}

/* True when the PDU keeps this node awake: with partial networking only one
 * that asks for a partial network of its own does. */
static bool concerns(const struct sim_node *node, uint16_t partial)
{
	return !node->partial || node->partial & partial;
}

static void hear(struct sim *sim, int i, uint16_t partial, bool repeat_request)
{
	struct sim_node *node = &sim->nodes[i];

	if (!concerns(node, partial))
		return;
	if (node->state == SIM_ASLEEP) {
		sim_node_wake(sim, i, false);
	} else if (node->state == SIM_PREPARE) {
		node->active = false;
		enter_repeat(sim, i);
	} else if (sim_state_awake(node->state)) {
		node->nm_deadline = sim->now + sim->networks[node->network].timers.timeout;
		if (repeat_request && node->state != SIM_REPEAT)
			enter_repeat(sim, i);
	}
}

static void send_pdu(struct sim *sim, int i)
{
	struct sim_node *node = &sim->nodes[i];
	struct sim_network *net = &sim->networks[node->network];
	uint8_t data[8], control = 0;
	uint16_t partial = node->wants ? node->partial : 0;

	memset(data, net->fill, sizeof(data));
	if (node->active)
		control |= CONTROL_ACTIVE_WAKEUP;
	if (node->active && node->state == SIM_REPEAT && net->repeat_request)
		control |= CONTROL_REPEAT_REQUEST;
	if (net->partial_first >= 0) {
		control |= CONTROL_PARTIAL_INFO;
		data[net->partial_first] = (uint8_t)partial;
		data[net->partial_first + 1] = (uint8_t)(partial >> 8);
	}
	data[net->node_byte] = node->address;
	data[net->control_byte] = control;
	sim_bus_send(sim, node->network, i, net->nm_base + node->address, data, net->nm_length);
	node->nm_deadline = sim->now + net->timers.timeout;
	for (int k = 0; k < sim->node_count; k++)
		if (k != i && sim->nodes[k].network == node->network)
			hear(sim, k, partial, control & CONTROL_REPEAT_REQUEST);
}

static void cycle(struct sim *sim, int i)
{
	struct sim_node *node = &sim->nodes[i];
	const struct sim_nm_timers *t = &sim->networks[node->network].timers;

	node->cycling = false;
	if (node->passive || (node->state != SIM_REPEAT && node->state != SIM_NORMAL))
		return;
	send_pdu(sim, i);
	bool immediate = node->immediate_left > 0;
	node->immediate_left -= immediate;
	start_cycle(sim, i,
		    (immediate ? t->immediate_cycle : t->cycle) +
			    sim_random_range(&sim->detail, -200, 200) * SIM_US);
}

static void prepare(struct sim *sim, int i)
{
	struct sim_node *node = &sim->nodes[i];

	node->generation++;
	node->cycling = node->active = false;
	sim_node_set_state(sim, i, SIM_PREPARE);
	sim_node_application(sim, i, false);
	sim_set_timer(sim, sim->networks[node->network].timers.wait_bus_sleep,
		      SIM_TIMER_NM_WAIT_END, i, node->generation);
}

static void timeout(struct sim *sim, int i)
{
	struct sim_node *node = &sim->nodes[i];

	if (sim->now >= node->nm_deadline) {
		if (node->state == SIM_READY && !node->stuck_ready) {
			prepare(sim, i);
			return;
		}
		node->nm_deadline = sim->now + sim->networks[node->network].timers.timeout;
	}
	sim_timers_push(&sim->timers, node->nm_deadline, SIM_TIMER_NM_TIMEOUT, i, node->generation);
}

static void started(struct sim *sim, int i)
{
	enter_repeat(sim, i);
}

static void wants(struct sim *sim, int i)
{
	struct sim_node *node = &sim->nodes[i];

	if (node->wants && node->state == SIM_PREPARE) {
		node->active = true;
		enter_repeat(sim, i);
	} else if (node->wants && node->state == SIM_READY) {
		sim_node_set_state(sim, i, SIM_NORMAL);
		start_cycle(sim, i, 0);
	} else if (!node->wants && node->state == SIM_NORMAL) {
		sim_node_set_state(sim, i, SIM_READY);
	}
}

static void timer(struct sim *sim, const struct sim_timer *what)
{
	int i = what->index;

	if (what->kind == SIM_TIMER_NM_CYCLE)
		cycle(sim, i);
	else if (what->kind == SIM_TIMER_NM_REPEAT_END && sim->nodes[i].state == SIM_REPEAT)
		sim_node_set_state(sim, i, sim->nodes[i].wants ? SIM_NORMAL : SIM_READY);
	else if (what->kind == SIM_TIMER_NM_TIMEOUT)
		timeout(sim, i);
	else if (what->kind == SIM_TIMER_NM_WAIT_END)
		sim_node_set_state(sim, i, SIM_ASLEEP);
}

const struct sim_scheme sim_autosar = {started, wants, timer};
