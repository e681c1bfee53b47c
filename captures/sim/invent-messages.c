/* SPDX-License-Identifier: MIT */
/* What they say: IDs, periods, payloads. */
#include "invent.h"

/* Periods a thinned message does not exceed, so that it stays well below any
 * quiet time. */
#define LONGEST_PERIOD (1500 * SIM_MS)

static bool id_taken(const struct sim *sim, uint32_t id)
{
	for (int i = 0; i < sim->message_count; i++)
		if (sim->messages[i].id == id)
			return true;
	for (int n = 0; n < sim->network_count; n++) {
		const struct sim_network *net = &sim->networks[n];
		if (id >= net->nm_base && id < net->nm_base + (uint32_t)net->nm_span)
			return true;
	}
	return false;
}

static uint32_t draw_id(struct sim *sim, const struct sim_node *node)
{
	static const unsigned pgns[] = {0xF004, 0xF003, 0xFEF1, 0xFEF2, 0xFEE5, 0xFEE9, 0xFECA,
					0xFEDF, 0xFEF7, 0xFEFC, 0xF00E, 0xFE6C, 0xFEC1, 0xFEAE,
					0xFED5, 0xFE40, 0xFE4E, 0xFEE6, 0xFEF5, 0xFEC0};
	const struct sim_network *net = &sim->networks[node->network];
	struct sim_random *random = &sim->invent;

	if (net->scheme == NOD_NM_J1939) {
		uint32_t priority = sim_random_chance(random, 70) ? 6 : 3;
		uint32_t pgn = pgns[sim_random_range(random, 0, 19)];
		uint32_t sa = (uint32_t)sim->modules[node->module].source_address;
		return NOD_ID_EXTENDED | priority << 26 | pgn << 8 | sa;
	}
	if (net->extended)
		return NOD_ID_EXTENDED | 0x12000000 |
		       (uint32_t)sim_random_range(random, 0, 0xFFFF) << 8 |
		       (uint32_t)sim_random_range(random, 0, 0xFF);
	return (uint32_t)sim_random_range(random, 0x080, 0x6FF);
}

static uint32_t pick_id(struct sim *sim, const struct sim_node *node)
{
	uint32_t id;

	/* Modules often own neighbouring IDs. */
	if (node->message_count > 0 && !(sim->networks[node->network].scheme == NOD_NM_J1939) &&
	    sim_random_chance(&sim->invent, 40)) {
		id = sim->messages[sim->message_count - 1].id + 1;
		if (!id_taken(sim, id) && (id & NOD_ID_EXTENDED || id <= 0x6FF))
			return id;
	}
	do
		id = draw_id(sim, node);
	while (id_taken(sim, id));
	return id;
}

static void invent_rhythm(struct sim *sim, struct sim_message *message, int index)
{
	static const int periods[] = {10, 20, 40, 50, 100, 100, 200, 200, 500, 1000};
	struct sim_random *random = &sim->invent;
	int64_t draw = index == 0 ? 0 : sim_random_range(random, 0, 99);

	message->rhythm = draw < 75 ? SIM_CYCLIC : draw < 85 ? SIM_MIXED : SIM_ON_EVENT;
	message->period = periods[sim_random_range(random, 0, 9)] * SIM_MS;
	message->period_parked = message->period;
	if (sim_random_chance(random, 25))
		message->period_parked *= sim_random_range(random, 2, 10);
	if (message->rhythm == SIM_ON_EVENT)
		message->period = sim_random_range(random, 2, 20) * SIM_S;
	message->jitter = message->period / sim_random_range(random, 20, 200);
	/* Some innocents have news while parked: a battery monitor, a sensor. */
	message->event_parked = message->rhythm != SIM_CYCLIC && sim_random_chance(random, 8);
}

static void invent_message(struct sim *sim, int index)
{
	struct sim_node *node = &sim->nodes[index];
	struct sim_message *message = &sim->messages[sim->message_count];

	*message = (struct sim_message){.id = pick_id(sim, node), .node = index, .forward = -1};
	invent_rhythm(sim, message, node->message_count);
	sim_payload_invent(&message->payload, &sim->invent,
			   sim_random_chance(&sim->invent, 75)
				   ? 8
				   : (unsigned)sim_random_range(&sim->invent, 1, 7));
	sim->message_count++;
	node->message_count++;
}

/* A gateway passes a few messages on; it uses an ID of its own for that. */
static void invent_forwards(struct sim *sim)
{
	if (sim->gateway < 0)
		return;
	const struct sim_module *gateway = &sim->modules[sim->gateway];
	for (int i = 0; i < gateway->node_count; i++) {
		int n = gateway->first_node + i;
		if (sim->nodes[n].message_count < 2)
			continue;
		int m = (int)sim_random_range(&sim->invent, 0, sim->message_count - 1);
		int copy = sim->nodes[n].first_message + sim->nodes[n].message_count - 1;
		if (sim->nodes[sim->messages[m].node].module == sim->gateway ||
		    sim->nodes[sim->messages[m].node].network == sim->nodes[n].network)
			continue;
		sim->messages[m].forward = copy;
		sim->messages[copy].rhythm = SIM_ON_EVENT;
		sim->messages[copy].period = 0; /* comes with its original only */
		sim->messages[copy].payload = sim->messages[m].payload;
	}
}

void sim_invent_messages(struct sim *sim)
{
	for (int i = 0; i < sim->node_count; i++) {
		struct sim_node *node = &sim->nodes[i];
		int most = sim->small ? 2 : node->module == sim->gateway ? 5 : 4;
		int count = (int)sim_random_range(&sim->invent, 1, most);
		node->first_message = sim->message_count;
		while (count-- && sim->message_count < SIM_MESSAGES)
			invent_message(sim, i);
	}
	invent_forwards(sim);
}

static int64_t stretched(int64_t period, int64_t percent)
{
	int64_t longest = period > LONGEST_PERIOD ? period : LONGEST_PERIOD;
	int64_t result = period * percent / 100;

	return result > longest ? longest : result;
}

static int64_t frames_at(const struct sim *sim, int64_t awake_time, int64_t percent)
{
	int64_t frames = 0;

	for (int i = 0; i < sim->message_count; i++)
		if (sim->messages[i].rhythm != SIM_ON_EVENT)
			frames += awake_time / stretched(sim->messages[i].period, percent);
	return frames;
}

/* Where messages slow down, or all pause, that stays to be seen. */
static void keep_contrast(struct sim_message *message, const struct sim_network *net, int64_t ratio)
{
	int64_t longest = net->slower  ? LONGEST_PERIOD / net->slower
			  : net->thins ? LONGEST_PERIOD / 2
				       : net->rouse_after / 3;

	if (!longest)
		return;
	if (message->period > longest)
		message->period = longest;
	message->period_parked = message->period * (net->rouse_after ? 1 : ratio);
}

void sim_invent_thin(struct sim *sim)
{
	int64_t awake_time = sim->sleeps_within + (sim->small ? SIM_MIN : 10 * SIM_MIN);
	int64_t percent = 100;

	if (!sim->frame_target)
		return;
	while (percent < 5000 && frames_at(sim, awake_time, percent) > sim->frame_target)
		percent += percent / 4;
	for (int i = 0; i < sim->message_count; i++) {
		struct sim_message *message = &sim->messages[i];
		if (message->rhythm == SIM_ON_EVENT)
			continue;
		const struct sim_network *net = &sim->networks[sim->nodes[message->node].network];
		int64_t ratio = message->period_parked / message->period;
		message->jitter = message->jitter * percent / 100;
		message->period = stretched(message->period, percent);
		message->period_parked = stretched(message->period_parked, percent);
		keep_contrast(message, net, ratio);
		if (message->period_parked > LONGEST_PERIOD)
			message->period_parked = LONGEST_PERIOD;
		if (message->jitter > message->period / 20)
			message->jitter = message->period / 20;
	}
}
