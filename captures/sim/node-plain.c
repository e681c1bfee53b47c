/* SPDX-License-Identifier: MIT */
/* Networks without network management, and J1939, which agrees on no sleep:
 * each unit ends its day by itself. */
#include "node.h"

/* How often a master asks its units whether they still need the network. */
#define POLL (300 * SIM_MS)

static bool anybody_wants(const struct sim *sim, int network)
{
	for (int i = 0; i < sim->node_count; i++) {
		const struct sim_node *node = &sim->nodes[i];
		if (node->network == network && node->wants && sim_state_awake(node->state))
			return true;
	}
	return false;
}

static int64_t later(int64_t a, int64_t b)
{
	return a > b ? a : b;
}

/* Until when it stays up as things stand; SIM_NEVER: it has a reason of its
 * own without an end. */
static int64_t stays_until(struct sim *sim, int i)
{
	struct sim_node *node = &sim->nodes[i];
	const struct sim_network *net = &sim->networks[node->network];

	if (node->held || node->spread)
		return SIM_NEVER;
	int64_t until = later(node->need_until, node->stop_at);
	if (net->follow == SIM_FOLLOW_MASTER && net->master == i) {
		if (anybody_wants(sim, node->network))
			node->stop_at = sim->now + node->follow_timeout;
		return later(until, node->stop_at);
	}
	if (net->follow == SIM_FOLLOW_LINE) {
		if (anybody_wants(sim, node->network))
			node->stop_at = sim->now + node->follow_timeout;
		return later(until, node->stop_at);
	}
	if (net->follow == SIM_FOLLOW_MASTER)
		return later(until, sim->nodes[net->master].last_sent + node->follow_timeout);
	for (int k = 0; k < 2 && net->follow == SIM_FOLLOW_PRODUCER; k++)
		if (node->producers[k] >= 0)
			until = later(until, sim->nodes[node->producers[k]].last_sent +
						     node->follow_timeout);
	return until;
}

static void check(struct sim *sim, int i)
{
	struct sim_node *node = &sim->nodes[i];
	int64_t until = stays_until(sim, i);

	if (until <= sim->now) {
		node->generation++;
		node->active = false;
		sim_node_application(sim, i, false);
		sim_node_set_state(sim, i, SIM_ASLEEP);
		return;
	}
	if (until > sim->now + SIM_S)
		until = sim->now + SIM_S;
	if (sim->networks[node->network].master == i && until > sim->now + POLL)
		until = sim->now + POLL;
	sim_timers_push(&sim->timers, until, SIM_TIMER_CHECK, i, node->generation);
}

static void started(struct sim *sim, int i)
{
	struct sim_node *node = &sim->nodes[i];

	sim_node_set_state(sim, i, SIM_NORMAL);
	node->stop_at = later(node->stop_at, sim->now + node->run_time);
	sim_node_application(sim, i, true);
	sim_set_timer(sim, POLL, SIM_TIMER_CHECK, i, node->generation);
}

static void wants(struct sim *sim, int i)
{
	(void)sim;
	(void)i; /* it is looked at when the next check is due */
}

static void timer(struct sim *sim, const struct sim_timer *what)
{
	if (what->kind == SIM_TIMER_CHECK)
		check(sim, what->index);
}

const struct sim_scheme sim_plain = {started, wants, timer};
