/* SPDX-License-Identifier: MIT */
#include "node.h"

static const struct sim_scheme *scheme_of(const struct sim *sim, int i)
{
	enum nod_nm_scheme scheme = sim->networks[sim->nodes[i].network].scheme;

	return scheme == NOD_NM_AUTOSAR || scheme == NOD_NM_OSEK ? &sim_managed : &sim_plain;
}

void sim_node_set_state(struct sim *sim, int i, enum sim_state state)
{
	struct sim_node *node = &sim->nodes[i];
	struct sim_network *net = &sim->networks[node->network];

	net->asleep += (state == SIM_ASLEEP) - (node->state == SIM_ASLEEP);
	node->state = state;
	sim_module_load(sim, node->module);
}

void sim_node_need(struct sim *sim, int i, int64_t until)
{
	struct sim_node *node = &sim->nodes[i];

	if (node->state == SIM_OFF || until <= node->need_until)
		return;
	node->need_until = until;
	sim_timers_push(&sim->timers, until, SIM_TIMER_NEED, i, 0);
	sim_node_review(sim, i);
}

void sim_node_review(struct sim *sim, int i)
{
	struct sim_node *node = &sim->nodes[i];
	bool wants = node->held || node->spread || sim->now < node->need_until;

	if (node->passive && sim->networks[node->network].scheme == NOD_NM_AUTOSAR)
		wants = false; /* in passive mode it cannot ask */

	if (node->state == SIM_OFF || wants == node->wants)
		return;
	node->wants = wants;
	if (node->state == SIM_ASLEEP && wants)
		sim_node_wake(sim, i, true);
	else if (sim_state_awake(node->state))
		scheme_of(sim, i)->wants(sim, i);
}

void sim_node_wake(struct sim *sim, int i, bool active)
{
	struct sim_node *node = &sim->nodes[i];

	node->active = active;
	node->generation++;
	sim_node_set_state(sim, i, SIM_STARTING);
	/* Who wakes it is up already. */
	int64_t delay = active ? sim_random_range(&sim->detail, 1, 5) * SIM_MS
			       : node->startup + sim_random_normal(&sim->detail, 3 * SIM_MS);
	sim_set_timer(sim, delay > 0 ? delay : SIM_MS, SIM_TIMER_STARTED, i, node->generation);
}

void sim_node_power(struct sim *sim, int i, bool on)
{
	struct sim_node *node = &sim->nodes[i];

	if (on == (node->state != SIM_OFF))
		return;
	sim_node_application(sim, i, false);
	node->generation++;
	node->wants = node->spread = false;
	node->need_until = 0;
	if (!on) {
		sim_node_set_state(sim, i, SIM_OFF);
		return;
	}
	sim_node_set_state(sim, i, SIM_ASLEEP);
	sim_node_wake(sim, i, false);
	sim_node_need(sim, i, sim->now + sim_random_range(&sim->course, 5, 30) * SIM_S);
}

void sim_node_timer(struct sim *sim, const struct sim_timer *timer)
{
	struct sim_node *node = &sim->nodes[timer->index];

	if (timer->kind == SIM_TIMER_NEED) {
		sim_node_review(sim, timer->index);
		return;
	}
	if (timer->generation != node->generation)
		return;
	if (timer->kind == SIM_TIMER_STARTED)
		scheme_of(sim, timer->index)->started(sim, timer->index);
	else
		scheme_of(sim, timer->index)->timer(sim, timer);
}
