/* SPDX-License-Identifier: MIT */
/* Application frames: when each message's turn comes, and what it says. */
#include "bus.h"
#include "node.h"
#include "world.h"

/* Slower than this nobody becomes, who is not so anyway: the others must go on hearing it. */
#define THIN_PERIOD (1900 * SIM_MS)

/* Its sender does not need the network any more, and thins out. */
static bool is_thinned(const struct sim *sim, const struct sim_message *message)
{
	const struct sim_node *node = &sim->nodes[message->node];

	return sim->networks[node->network].thins && sim->parked && !node->wants;
}

/* What is left of a node's messages when it has thinned out: the first, or the first half. */
static bool is_left(const struct sim *sim, const struct sim_message *message)
{
	const struct sim_node *node = &sim->nodes[message->node];
	int index = (int)(message - sim->messages) - node->first_message;

	return index < (sim->world->drops ? (node->message_count + 1) / 2 : 1);
}

static int64_t period_of(const struct sim *sim, const struct sim_message *message)
{
	const struct sim_network *net = &sim->networks[sim->nodes[message->node].network];
	int64_t period = sim->parked ? message->period_parked : message->period;
	int64_t slower = period * net->thinner;

	if (period >= THIN_PERIOD || net->master == message->node || !is_thinned(sim, message) ||
	    sim->world->drops)
		return period; /* what a master says, the others wait for */
	return slower < THIN_PERIOD ? slower : THIN_PERIOD;
}

static int64_t event_interval(struct sim *sim, const struct sim_message *message)
{
	return sim_random_spread(&sim->detail, message->period / 8, 2 * message->period);
}

static void set_message_timer(struct sim *sim, int index, int64_t at)
{
	struct sim_message *message = &sim->messages[index];

	message->due = at;
	if (message->rhythm != SIM_ON_EVENT)
		at += sim_random_normal(&sim->detail, message->jitter);
	sim_timers_push(&sim->timers, at > sim->now ? at : sim->now + SIM_US, SIM_TIMER_MESSAGE,
			index, sim->nodes[message->node].application_generation);
}

void sim_node_application(struct sim *sim, int i, bool on)
{
	struct sim_node *node = &sim->nodes[i];

	if (on == node->application_on)
		return;
	node->application_on = on;
	node->application_generation++;
	for (int k = 0; on && k < node->message_count; k++) {
		struct sim_message *message = &sim->messages[node->first_message + k];
		if (!message->period)
			continue;
		int64_t latest = message->rhythm == SIM_ON_EVENT  ? message->period
				 : message->period < 100 * SIM_MS ? message->period
								  : 100 * SIM_MS;
		int64_t offset = node->active && k == 0 ? 0
							: sim_random_range(&sim->detail, 0, latest);
		set_message_timer(sim, node->first_message + k, sim->now + offset);
	}
}

static void pass_on(struct sim *sim, const struct sim_message *message)
{
	struct sim_message *copy = &sim->messages[message->forward];

	if (!sim->nodes[copy->node].application_on)
		return;
	for (int i = 0; i < copy->payload.length; i++)
		copy->payload.data[i] = message->payload.data[i];
	set_message_timer(sim, message->forward,
			  sim->now + sim_random_range(&sim->detail, 800, 4000) * SIM_US);
}

static void send(struct sim *sim, struct sim_message *message)
{
	const struct sim_payload *payload = &message->payload;

	if (message->period)
		sim_payload_next(&message->payload, &sim->detail, sim->parked);
	sim_bus_send(sim, sim->nodes[message->node].network, message->node, message->id,
		     payload->data, payload->length);
	if (message->forward >= 0)
		pass_on(sim, message);
}

void sim_message_send(struct sim *sim, int message)
{
	if (sim->nodes[sim->messages[message].node].application_on)
		send(sim, &sim->messages[message]);
}

static bool events_happen(const struct sim *sim, const struct sim_message *message)
{
	return !sim->parked || message->event_parked;
}

void sim_message_timer(struct sim *sim, const struct sim_timer *timer)
{
	struct sim_message *message = &sim->messages[timer->index];

	if (timer->generation != sim->nodes[message->node].application_generation)
		return;
	if (message->rhythm == SIM_ON_EVENT) {
		if (!message->period || events_happen(sim, message))
			send(sim, message);
		if (message->period)
			set_message_timer(sim, timer->index,
					  sim->now + event_interval(sim, message));
		return;
	}
	if (!is_thinned(sim, message) || is_left(sim, message))
		send(sim, message);
	/* Mixed: now and then one more, off the grid. */
	if (message->rhythm == SIM_MIXED && !is_thinned(sim, message) &&
	    events_happen(sim, message) && sim_random_chance(&sim->detail, 5))
		send(sim, message);
	set_message_timer(sim, timer->index, message->due + period_of(sim, message));
}
