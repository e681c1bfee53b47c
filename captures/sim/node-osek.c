/* SPDX-License-Identifier: MIT */
/* OSEK/VDX direct network management: a ring of nodes that hand on a token;
 * opcodes and procedure as in an open stack's OsekNm.c. The ring is kept as
 * one object per network, because all nodes see the same messages. */
#include <string.h>

#include "bus.h"
#include "node.h"

#define OPCODE_ALIVE 0x01
#define OPCODE_RING 0x02
#define OPCODE_LIMP_HOME 0x04
#define OPCODE_SLEEP_INDICATION 0x10
#define OPCODE_SLEEP_ACKNOWLEDGE 0x20

static void say_alive(struct sim *sim, int i, int64_t after)
{
	struct sim_node *node = &sim->nodes[i];

	node->generation++;
	sim_node_set_state(sim, i, node->limp_home ? SIM_LIMP : SIM_REPEAT);
	sim_set_timer(sim, after, node->limp_home ? SIM_TIMER_LIMP_HOME : SIM_TIMER_ALIVE, i,
		      node->generation);
}

static void resume_application(struct sim *sim, int i)
{
	if (!sim->nodes[i].application_on)
		sim_set_timer(sim, sim->networks[sim->nodes[i].network].timers.first_application,
			      SIM_TIMER_APPLICATION, i, sim->nodes[i].generation);
}

static void stop_ring(struct sim_network *net)
{
	net->token = -1;
	net->indications = 0;
	net->ring_generation++;
}

/* Forgets who belongs to the ring: it is built anew from alive messages. */
static void forget_members(struct sim *sim, int network)
{
	stop_ring(&sim->networks[network]);
	for (int i = 0; i < sim->node_count; i++)
		if (sim->nodes[i].network == network)
			sim->nodes[i].in_ring = false;
}

static void restart(struct sim *sim, int network, enum sim_state of)
{
	bool any = false;

	for (int i = 0; i < sim->node_count; i++) {
		if (sim->nodes[i].network != network || sim->nodes[i].state != of)
			continue;
		if (!any)
			forget_members(sim, network);
		any = true;
		say_alive(sim, i, sim_random_range(&sim->detail, 1, 30) * SIM_MS);
		resume_application(sim, i);
	}
}

static void send(struct sim *sim, int i, uint8_t destination, unsigned opcode)
{
	struct sim_node *node = &sim->nodes[i];
	struct sim_network *net = &sim->networks[node->network];
	uint8_t data[8];

	memset(data, net->fill, sizeof(data));
	if (!node->wants)
		opcode |= OPCODE_SLEEP_INDICATION;
	data[0] = destination;
	data[1] = (uint8_t)opcode;
	sim_bus_send(sim, node->network, i, net->nm_base + node->address, data, sizeof(data));
	net->indications = node->wants ? 0 : net->indications + 1;
	if (!node->wants)
		return;
	restart(sim, node->network, SIM_PREPARE); /* it cancels the others' way to sleep */
	node->in_ring = node->state == SIM_NORMAL;
}

static int successor(const struct sim *sim, int i)
{
	for (int step = 1; step <= sim->node_count; step++) {
		int k = (i + step) % sim->node_count;
		if (sim->nodes[k].network == sim->nodes[i].network && sim->nodes[k].in_ring)
			return k;
	}
	return i;
}

static bool all_agree(const struct sim *sim, int network)
{
	int members = 0;

	for (int i = 0; i < sim->node_count; i++) {
		const struct sim_node *node = &sim->nodes[i];
		if (node->network != network || !sim_state_awake(node->state))
			continue;
		members++;
		if (node->wants)
			return false;
	}
	return sim->networks[network].indications >= members;
}

static void go_offline(struct sim *sim, int network)
{
	struct sim_network *net = &sim->networks[network];

	forget_members(sim, network);
	for (int i = 0; i < sim->node_count; i++) {
		struct sim_node *node = &sim->nodes[i];
		if (node->network != network || !sim_state_awake(node->state))
			continue;
		node->generation++;
		sim_node_set_state(sim, i, SIM_PREPARE);
		sim_node_application(sim, i, false);
		sim_set_timer(sim, net->timers.wait_bus_sleep, SIM_TIMER_NM_WAIT_END, i,
			      node->generation);
	}
}

/* The node with the token has lost its power: the others miss it after TMax
 * and begin anew. */
static void token_lost(struct sim *sim, int network)
{
	struct sim_network *net = &sim->networks[network];

	forget_members(sim, network);
	for (int i = 0; i < sim->node_count; i++) {
		if (sim->nodes[i].network != network || sim->nodes[i].state != SIM_NORMAL)
			continue;
		say_alive(sim, i,
			  net->timers.max - net->timers.typ +
				  sim_random_range(&sim->detail, 1, 30) * SIM_MS);
	}
}

void sim_osek_ring_timer(struct sim *sim, const struct sim_timer *timer)
{
	struct sim_network *net = &sim->networks[timer->index];
	int i = net->token;

	if (timer->generation != net->ring_generation || i < 0)
		return;
	if (sim->nodes[i].state != SIM_NORMAL) {
		token_lost(sim, timer->index);
		return;
	}
	int next = successor(sim, i);
	bool agreed = all_agree(sim, timer->index);
	send(sim, i, sim->nodes[next].address,
	     OPCODE_RING | (agreed ? OPCODE_SLEEP_ACKNOWLEDGE : 0));
	if (agreed) {
		go_offline(sim, timer->index);
		return;
	}
	net->token = next;
	sim_set_timer(sim, net->timers.typ + sim_random_range(&sim->detail, 0, 800) * SIM_US,
		      SIM_TIMER_RING, timer->index, net->ring_generation);
}

static void alive(struct sim *sim, int i)
{
	struct sim_node *node = &sim->nodes[i];
	struct sim_network *net = &sim->networks[node->network];

	sim_node_set_state(sim, i, SIM_NORMAL);
	send(sim, i, node->address, OPCODE_ALIVE);
	node->in_ring = true;
	if (net->token >= 0)
		return;
	net->token = i;
	sim_set_timer(sim, net->timers.typ, SIM_TIMER_RING, node->network, ++net->ring_generation);
}

static void limp(struct sim *sim, int i)
{
	struct sim_node *node = &sim->nodes[i];

	send(sim, i, node->address, OPCODE_LIMP_HOME);
	sim_set_timer(sim, sim->networks[node->network].timers.error, SIM_TIMER_LIMP_HOME, i,
		      node->generation);
}

static void started(struct sim *sim, int i)
{
	say_alive(sim, i,
		  sim->nodes[i].active ? 0 : sim_random_range(&sim->detail, 0, 20) * SIM_MS);
	resume_application(sim, i);
}

static void wants(struct sim *sim, int i)
{
	if (sim->nodes[i].wants && sim->nodes[i].state == SIM_PREPARE) {
		say_alive(sim, i, SIM_MS);
		resume_application(sim, i);
	}
}

static void timer(struct sim *sim, const struct sim_timer *what)
{
	if (what->kind == SIM_TIMER_ALIVE)
		alive(sim, what->index);
	else if (what->kind == SIM_TIMER_LIMP_HOME)
		limp(sim, what->index);
	else if (what->kind == SIM_TIMER_NM_WAIT_END)
		sim_node_set_state(sim, what->index, SIM_ASLEEP);
}

const struct sim_scheme sim_osek = {started, wants, timer};
