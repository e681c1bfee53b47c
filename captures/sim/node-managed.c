/* SPDX-License-Identifier: MIT */
/* Networks with network management: the machines of nm.h on the nodes of a car. */
#include "bus.h"
#include "node.h"

static struct sim_node *owner_of(struct sim_nm_bus *bus, int k)
{
	return (struct sim_node *)(void *)((char *)bus->nodes[k] - offsetof(struct sim_node, nm));
}

static int index_of(struct sim_nm_bus *bus, int k)
{
	struct sim *sim = bus->owner;

	return (int)(owner_of(bus, k) - sim->nodes);
}

static void application(struct sim_nm_bus *bus, int k, bool on)
{
	sim_node_application(bus->owner, index_of(bus, k), on);
}

static void send(struct sim_nm_bus *bus, int k, const uint8_t data[8])
{
	struct sim *sim = bus->owner;
	int i = index_of(bus, k);
	const struct sim_node *node = &sim->nodes[i];

	sim_bus_send(sim, node->network, i, sim->networks[node->network].nm_base + node->address,
		     data, (unsigned)bus->config.length);
	for (int other = 0; other < bus->count; other++) {
		const struct sim_node *hears = owner_of(bus, other);
		if (other != k && sim_state_awake(hears->state))
			sim_nm_hear(bus, other, k, data);
		else if (hears->state == SIM_ASLEEP && hears->nm.partial &&
			 sim_nm_concerns(bus, other, data))
			sim_node_wake(sim, index_of(bus, other), false);
	}
}

static void set_up(struct sim *sim, struct sim_network *net)
{
	const struct sim_nm_timers *t = &net->timers;

	net->bus = (struct sim_nm_bus){
		.random = &sim->detail, .send = send, .application = application, .owner = sim};
	net->bus.config = (struct sim_nm_config){
		.scheme = net->scheme,
		.length = net->nm_length ? net->nm_length : 8,
		.node_byte = net->node_byte,
		.control_byte = net->control_byte,
		.partial_first = net->partial_first,
		.fill = net->fill,
		.first_application = t->first_application,
		.tick = SIM_MS / 2,
		.cycle = t->cycle,
		.immediate_cycle = t->immediate_cycle,
		.immediate = (int)t->immediate,
		.repeat = t->repeat,
		.timeout = t->timeout,
		.wait = t->wait_bus_sleep,
		.repeat_request = net->repeat_request,
		.active_bit = true,
		.typ = t->typ,
		.max = t->max,
		.error = t->error,
		.rx_limit = 4,
	};
}

void sim_managed_begin(struct sim *sim)
{
	for (int n = 0; n < sim->network_count; n++)
		set_up(sim, &sim->networks[n]);
	for (int i = 0; i < sim->node_count; i++) {
		struct sim_node *node = &sim->nodes[i];
		struct sim_nm_bus *bus = &sim->networks[node->network].bus;
		node->nm.address = node->address;
		node->nm.passive = node->passive;
		node->nm.partial = node->nm.asks = node->partial;
		node->bus_index = bus->count;
		bus->nodes[bus->count++] = &node->nm;
	}
}

static struct sim_nm_bus *now_on(struct sim *sim, const struct sim_node *node)
{
	struct sim_nm_bus *bus = &sim->networks[node->network].bus;

	bus->now = sim->now;
	return bus;
}

/* What the machines have done: states, and when they are due. */
static void settle(struct sim *sim, struct sim_nm_bus *bus)
{
	for (int k = 0; k < bus->count; k++) {
		struct sim_node *node = owner_of(bus, k);
		int i = index_of(bus, k);
		if (!sim_state_awake(node->state))
			continue;
		if (node->state != node->nm.state)
			sim_node_set_state(sim, i, node->nm.state);
		int64_t next = sim_nm_next(&node->nm);
		if (next >= node->nm_due)
			continue;
		node->nm_due = next;
		sim_timers_push(&sim->timers, next, SIM_TIMER_NM, i, node->generation);
	}
}

static void started(struct sim *sim, int i)
{
	struct sim_node *node = &sim->nodes[i];
	struct sim_nm_bus *bus = now_on(sim, node);

	node->nm_due = SIM_NEVER;
	node->nm.wants = node->wants;
	node->nm.application = node->application_on;
	sim_nm_start(bus, node->bus_index, node->active);
	sim_node_set_state(sim, i, node->nm.state);
	settle(sim, bus);
}

static void wants(struct sim *sim, int i)
{
	struct sim_node *node = &sim->nodes[i];
	struct sim_nm_bus *bus = now_on(sim, node);

	sim_nm_wish(bus, node->bus_index, node->wants);
	settle(sim, bus);
}

static void timer(struct sim *sim, const struct sim_timer *what)
{
	struct sim_node *node = &sim->nodes[what->index];
	struct sim_nm_bus *bus = now_on(sim, node);

	if (what->kind != SIM_TIMER_NM || what->at != node->nm_due)
		return; /* another one was set since */
	node->nm_due = SIM_NEVER;
	if (sim_nm_next(&node->nm) <= sim->now)
		sim_nm_due(bus, node->bus_index);
	settle(sim, bus);
}

void sim_managed_bus_off(struct sim *sim, int i)
{
	struct sim_nm_bus *bus = now_on(sim, &sim->nodes[i]);

	if (!sim_state_awake(sim->nodes[i].state))
		return;
	sim_nm_bus_off(bus, sim->nodes[i].bus_index);
	settle(sim, bus);
}

const struct sim_scheme sim_managed = {started, wants, timer};
