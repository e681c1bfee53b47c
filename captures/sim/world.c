/* SPDX-License-Identifier: MIT */
#include "world.h"

#include <string.h>

#include "run.h"
#include "stage.h"

const struct sim_world sim_worlds[SIM_WORLDS] = {
	{.help = "masters, producers and timers; data that mostly rest; a good map"},
	{.help = "wake-up lines, staged power-down, networks that sleep by themselves, routed IDs",
	 .independent = true,
	 .line = 65,
	 .thins = 60,
	 .run_on_s = {3, 90},
	 .startup_ms = {15, 400},
	 .same_id = 60,
	 .value_parked = 40,
	 .flickers = 25,
	 .blinks = 2,
	 .pages = 8,
	 .map_missing = 10,
	 .map_moved = 3,
	 .late_mark_s = 30,
	 .holes = 15,
	 .people = 20},
	{.help = "coordinating gateways, long run-on, slow boots, restless data, a poor map, people",
	 .line = 25,
	 .thins = 20,
	 .run_on_s = {15, 240},
	 .startup_ms = {150, 1500},
	 .same_id = 20,
	 .value_parked = 70,
	 .flickers = 45,
	 .blinks = 6,
	 .pages = 20,
	 .map_missing = 6,
	 .map_moved = 10,
	 .late_mark_s = 60,
	 .holes = 30,
	 .people = 50},
	{.help = "states of several bits, clocks and lamps in the data, messages left out, late boots",
	 .line = 45,
	 .thins = 50,
	 .run_on_s = {1, 150},
	 .startup_ms = {60, 900},
	 .same_id = 40,
	 .value_parked = 50,
	 .flickers = 15,
	 .blinks = 5,
	 .pages = 12,
	 .states = 55,
	 .clocks = 6,
	 .drops = true,
	 .map_missing = 12,
	 .map_moved = 5,
	 .late_mark_s = 20,
	 .holes = 20,
	 .people = 30},
};

/* Nobody's run-on may by itself use up the time given. */
static int64_t run_on(struct sim *sim, struct sim_random *random)
{
	int64_t ns = sim_random_spread(random, sim->world->run_on_s[0], sim->world->run_on_s[1]) *
		     SIM_S;

	return ns < sim->sleeps_within / 6 ? ns : sim->sleeps_within / 6;
}

static void shape_network(struct sim *sim, struct sim_random *random, struct sim_network *net)
{
	const struct sim_world *world = sim->world;

	if (net->scheme != NOD_NM_NONE)
		return;
	if (net->follow != SIM_FOLLOW_TIMER && sim_random_chance(random, world->line))
		net->follow = SIM_FOLLOW_LINE;
	net->thins = sim_random_chance(random, world->thins);
	net->thinner = (int)sim_random_range(random, 2, 8);
}

static void shape_payload(struct sim *sim, struct sim_random *random, struct sim_payload *p,
			  int64_t period)
{
	const struct sim_world *world = sim->world;

	p->value_parked = sim_random_chance(random, world->value_parked);
	if (sim_random_chance(random, world->flickers)) {
		int bit = sim_payload_free_bit(p, random);
		/* Values begin at the border of a byte or half byte, mostly. */
		p->flicker_bit = (int16_t)(sim_random_chance(random, 85) ? bit & ~3 : bit);
		p->flicker_percent = (uint8_t)(bit < 0 ? 0 : sim_random_range(random, 1, 40));
	}
	if (sim_random_chance(random, world->blinks)) {
		p->toggle_bit = (int16_t)sim_payload_free_bit(p, random);
		p->toggle_every = (uint8_t)sim_random_range(random, 2, 12);
	}
	if (p->length >= 4 && sim_random_chance(random, world->pages))
		sim_payload_page(p, random);
	p->whole_byte = world->states && sim_random_chance(random, world->states);
	if (world->clocks && sim_random_chance(random, world->clocks))
		sim_payload_clock(p, random, period / SIM_MS);
}

/* A gateway that routes instead of translating: the same ID on both networks. */
static void keep_ids(struct sim *sim, struct sim_random *random)
{
	for (int i = 0; i < sim->message_count; i++) {
		const struct sim_message *m = &sim->messages[i];
		if (m->forward < 0 || !sim_random_chance(random, sim->world->same_id))
			continue;
		struct sim_message *copy = &sim->messages[m->forward];
		const struct sim_network *from = &sim->networks[sim->nodes[m->node].network];
		const struct sim_network *to = &sim->networks[sim->nodes[copy->node].network];
		if (from->scheme == NOD_NM_J1939 || from->extended != to->extended)
			continue;
		copy->id = m->id;
		copy->routed = true;
	}
}

void sim_world_shape(struct sim *sim, bool passes_on)
{
	struct sim_random random;

	if (sim->world == sim_worlds)
		return;
	sim_random_seed(&random, sim->seed, 11);
	sim->independent = sim->world->independent && !passes_on;
	for (int i = 0; i < sim->network_count; i++)
		shape_network(sim, &random, &sim->networks[i]);
	for (int i = 0; i < sim->node_count; i++) {
		struct sim_node *node = &sim->nodes[i];
		node->run_time = run_on(sim, &random);
		if (sim->networks[node->network].follow == SIM_FOLLOW_LINE)
			node->follow_timeout = run_on(sim, &random);
		node->startup = SIM_MS * sim_random_spread(&random, sim->world->startup_ms[0],
							   sim->world->startup_ms[1]);
	}
	for (int i = 0; i < sim->message_count; i++)
		shape_payload(sim, &random, &sim->messages[i].payload, sim->messages[i].period);
	keep_ids(sim, &random);
}

/* ---- what people and the recording do ---- */

/* Most are written down at once, some late; a pulled fuse not as late as a door. */
static void write_late(struct sim *sim, struct sim_random *random, struct sim_action *action)
{
	int64_t most = sim->world->late_mark_s * SIM_S;

	if (action->act != SIM_ACT_DOOR && action->act != SIM_ACT_KEY &&
	    action->act != SIM_ACT_UNLOCK && action->act != SIM_ACT_TOUCH)
		most /= 4;
	action->mark_delay += sim_random_spread(random, SIM_S / 4, most);
}

static void listen_not(struct sim *sim, struct sim_random *random)
{
	int64_t from = sim->lock + sim->sleeps_within * sim_random_range(random, 5, 40) / 100;

	if (sim->recorder.window_count == SIM_WINDOWS || from < sim->recorder.start)
		return;
	struct sim_window *w = sim_stage_window(sim, SIM_WINDOW_GAP, from,
						from + sim_random_range(random, 3, 40) * SIM_S);
	if (sim_random_chance(random, 50))
		w->network = (int)sim_random_range(random, 0, sim->network_count - 1);
}

void sim_world_disturb(struct sim *sim)
{
	struct sim_random random;

	if (sim->world == sim_worlds)
		return;
	sim_random_seed(&random, sim->seed, 12 + 16 * (uint64_t)sim->session);
	for (int i = 0; i < sim->action_count; i++)
		write_late(sim, &random, &sim->actions[i]);
	if (sim_random_chance(&random, sim->world->holes))
		listen_not(sim, &random);
	/* Who finds a car asleep and opens it has woken it: that is another situation. */
	if (!sim_random_chance(&random, sim->world->people) ||
	    strcmp(sim->story.verdict, "kept awake") != 0)
		return;
	struct sim_action *door = sim_add_action(
		sim, SIM_ACT_DOOR,
		sim->lock + sim->sleeps_within * sim_random_range(&random, 2, 10) / 100, -1);
	if (door)
		door->marked = false;
}

/* ---- the map ---- */

static bool is_culprit(const struct sim *sim, int module)
{
	for (int i = 0; i < sim->story.culprit_count; i++)
		if (sim->story.culprits[i] == module)
			return true;
	return false;
}

static unsigned draw(const struct sim *sim, uint64_t stream)
{
	struct sim_random random;

	sim_random_seed(&random, sim->seed, 1000 + stream);
	return (unsigned)sim_random_range(&random, 0, 99);
}

/* Another module of the same network. */
static int neighbour(const struct sim *sim, int node)
{
	for (int k = 1; k < sim->node_count; k++) {
		const struct sim_node *other = &sim->nodes[(node + k) % sim->node_count];
		if (other->network == sim->nodes[node].network &&
		    other->module != sim->nodes[node].module && sim->modules[other->module].in_map)
			return other->module;
	}
	return sim->nodes[node].module;
}

/* A culprit's first line is there, and none of its lines stands elsewhere: the situations
 * of wrong maps are about that. */
int sim_world_mapped(const struct sim *sim, int message)
{
	const struct sim_message *m = &sim->messages[message];
	int module = sim->nodes[m->node].module;
	bool culprit = is_culprit(sim, module);
	unsigned chance = draw(sim, (uint64_t)message);

	if (m->routed)
		return -1; /* it stands at the module that it comes from */
	if (culprit && message == sim->nodes[m->node].first_message)
		return module;
	if (chance < sim->world->map_missing)
		return -1;
	if (chance < sim->world->map_missing + sim->world->map_moved && !culprit)
		return neighbour(sim, m->node);
	return module;
}

bool sim_world_node_mapped(const struct sim *sim, int module)
{
	return draw(sim, 500 + (uint64_t)module) >= sim->world->map_missing;
}
