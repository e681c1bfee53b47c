/* SPDX-License-Identifier: MIT */
/* Who is there: modules, their nodes on the networks, their fuses. */
#include <string.h>

#include "invent.h"
#include "names.h"

static int network_of_realm(struct sim *sim, enum sim_realm realm)
{
	if (sim->truck)
		return sim->network_count > 1 && realm == SIM_REALM_BODY ? 1 : 0;
	if ((int)realm < sim->network_count && sim_random_chance(&sim->invent, 85))
		return (int)realm;
	return (int)sim_random_range(&sim->invent, 0, sim->network_count - 1);
}

static void invent_node(struct sim *sim, int module, int network)
{
	struct sim_random *random = &sim->invent;
	struct sim_node *node = &sim->nodes[sim->node_count];
	bool j1939 = sim->networks[network].scheme == NOD_NM_J1939;

	*node = (struct sim_node){.module = module,
				  .network = network,
				  .address = (uint8_t)(module + 1),
				  .startup = sim_random_range(random, 20, 300) * SIM_MS,
				  .run_time = sim_random_range(random, 8, 60) * SIM_S,
				  .follow_timeout = sim_random_range(random, 5, 50) * 100 * SIM_MS,
				  .producers = {-1, -1},
				  .wake_on_bus = !j1939 || sim_random_chance(random, 60)};
	sim_nm_init(&node->nm);
	node->passive = sim_random_chance(random, 8);
	if (sim->networks[network].partial_first >= 0)
		node->partial = (uint16_t)(1 << sim_random_range(random, 0, 3));
	sim->node_count++;
	sim->modules[module].node_count++;
}

static void invent_nodes(struct sim *sim, int index, const struct sim_role *role)
{
	struct sim_module *module = &sim->modules[index];

	module->first_node = sim->node_count;
	if (!(role->tags & SIM_TAG_GATEWAY)) {
		invent_node(sim, index, network_of_realm(sim, role->realm));
		return;
	}
	sim->gateway = index;
	for (int n = 0; n < sim->network_count; n++) {
		invent_node(sim, index, n);
		sim->nodes[sim->node_count - 1].partial = 0xF;
		sim->nodes[sim->node_count - 1].passive = false;
	}
}

static void invent_module(struct sim *sim, const struct sim_role *role)
{
	struct sim_random *random = &sim->invent;
	struct sim_module *module = &sim->modules[sim->module_count];

	*module = (struct sim_module){.name = role->name,
				      .place = role->place,
				      .tags = role->tags,
				      .source_address = role->source_address,
				      .fuses = {-1, -1},
				      .powered = true,
				      .in_map = true,
				      .fuse_in_map = sim_random_chance(random, 92)};
	memcpy(module->inputs, role->inputs, sizeof(module->inputs));
	module->awake_ua = sim_random_range(random, role->awake_ma_low, role->awake_ma_high) * 1000;
	module->asleep_ua = sim_random_spread(random, 50, 1600);
	module->ready_after = sim_random_spread(random, 2, 45) * SIM_S;
	invent_nodes(sim, sim->module_count, role);
	sim->module_count++;
}

static bool wanted(const struct sim_role *role, size_t index, const struct sim_wish *wish,
		   bool gateway)
{
	if (role->tags & SIM_TAG_GATEWAY)
		return gateway;
	return index < 2 || (wish->tags && (role->tags & wish->tags) == wish->tags);
}

static bool can_be_culprit(const struct sim *sim, const struct sim_node *node)
{
	return !(sim->modules[node->module].tags &
		 (SIM_TAG_GATEWAY | SIM_TAG_AIRBAG | SIM_TAG_HIGH_VOLTAGE));
}

static int count_candidates(const struct sim *sim, int network)
{
	int count = 0;

	for (int i = 0; i < sim->node_count; i++)
		count += sim->nodes[i].network == network && can_be_culprit(sim, &sim->nodes[i]);
	return count;
}

static void move_one(struct sim *sim, int from, int to)
{
	int start = (int)sim_random_range(&sim->invent, 0, sim->node_count - 1);

	for (int k = 0; k < sim->node_count; k++) {
		struct sim_node *node = &sim->nodes[(start + k) % sim->node_count];
		if (node->network != from || !can_be_culprit(sim, node))
			continue;
		node->network = to;
		node->partial = sim->networks[to].partial_first >= 0 ? 1 : 0;
		return;
	}
}

/* Each network needs some that can hold it: at least three, where the car has
 * so many. */
static void fill_empty_networks(struct sim *sim)
{
	for (int round = 0; round < 3 * sim->network_count; round++) {
		int least = 0, most = 0;
		for (int n = 1; n < sim->network_count; n++) {
			if (count_candidates(sim, n) < count_candidates(sim, least))
				least = n;
			if (count_candidates(sim, n) > count_candidates(sim, most))
				most = n;
		}
		if (count_candidates(sim, least) >= 3 ||
		    count_candidates(sim, most) < count_candidates(sim, least) + 2)
			return;
		move_one(sim, most, least);
	}
}

/* The last to let go decide when the network sleeps: one or two in each car
 * need most of the time that the map allows. */
static void invent_slow_modules(struct sim *sim)
{
	int slow = (int)sim_random_range(&sim->invent, 1, 3);
	int64_t most = sim->sleeps_within * 6 / 10;

	for (int i = 0; i < slow; i++) {
		int m = (int)sim_random_range(&sim->invent, 0, sim->module_count - 1);
		if (m != sim->gateway)
			sim->modules[m].ready_after = sim->sleeps_within *
						      sim_random_range(&sim->invent, 15, 60) / 100;
	}
	for (int m = 0; m < sim->module_count; m++)
		if (sim->modules[m].ready_after > most)
			sim->modules[m].ready_after = most;
}

static void choose_leaders(struct sim *sim)
{
	for (int i = 0; i < sim->node_count; i++) {
		struct sim_node *node = &sim->nodes[i];
		struct sim_network *net = &sim->networks[node->network];
		unsigned tags = sim->modules[node->module].tags;
		if (net->master < 0 || tags & (SIM_TAG_GATEWAY | SIM_TAG_BODY_MASTER))
			net->master = i;
		for (int k = 0; k < 2 && net->follow == SIM_FOLLOW_PRODUCER; k++) {
			int other = (int)sim_random_range(&sim->invent, 0, i);
			if (other < i && sim->nodes[other].network == node->network)
				node->producers[k] = other;
		}
	}
}

void sim_invent_modules(struct sim *sim, const struct sim_wish *wish)
{
	const struct sim_role *roles = wish->truck ? sim_truck_roles : sim_car_roles;
	size_t count = wish->truck ? sim_truck_role_count : sim_car_role_count;
	int target = (int)sim_random_range(&sim->invent, sim->small ? 7 : 15, sim->small ? 11 : 40);
	bool gateway = wish->gateway || (!wish->no_gateway && sim_random_chance(&sim->invent, 75));
	size_t order[64];

	sim->gateway = -1;
	for (size_t i = 0; i < count; i++)
		order[i] = i;
	for (size_t i = count - 1; i > 0; i--) {
		size_t j = (size_t)sim_random_range(&sim->invent, 0, (int64_t)i);
		size_t swap = order[i];
		order[i] = order[j];
		order[j] = swap;
	}
	int mandatory = 0;
	for (size_t i = 0; i < count; i++)
		mandatory += wanted(&roles[i], i, wish, gateway);
	for (size_t i = 0; i < count && sim->module_count < SIM_MODULES; i++) {
		const struct sim_role *role = &roles[order[i]];
		bool must = wanted(role, order[i], wish, gateway);
		if (sim->small && role->tags & SIM_TAG_HIGH_VOLTAGE)
			continue;
		if (!must &&
		    (role->tags & SIM_TAG_GATEWAY || sim->module_count + mandatory >= target))
			continue;
		mandatory -= must;
		invent_module(sim, role);
	}
	fill_empty_networks(sim);
	invent_slow_modules(sim);
	choose_leaders(sim);
}

static int add_fuse(struct sim *sim)
{
	static const char *const families[] = {"mini", "ato", "micro2", "mini"};
	static const char *const boxes[] = {"cabin", "engine bay", "boot"};
	static const char *const feeds[] = {
		NULL, NULL, NULL, "interior lamps", "cigar lighter", "horn", "mirror heating"};
	static const unsigned ratings[] = {50, 75, 100, 150, 200, 250, 300};
	struct sim_random *random = &sim->invent;
	struct sim_fuse *fuse = &sim->fuses[sim->fuse_count];

	*fuse = (struct sim_fuse){.family = families[sim_random_range(random, 0, 3)],
				  .box = boxes[sim_random_range(random, 0, 2)],
				  .feed = feeds[sim_random_range(random, 0, 6)],
				  .rating_a10 = ratings[sim_random_range(random, 0, 6)],
				  .fitted = true};
	return sim->fuse_count++;
}

/* Numbers in the fuse box say nothing about what they feed. */
static void number_fuses(struct sim *sim)
{
	int number = 1;

	for (int i = 0; i < sim->fuse_count; i++) {
		int j = (int)sim_random_range(&sim->invent, i, sim->fuse_count - 1);
		char *name = sim->fuses[i].name, *end = name;
		number += (int)sim_random_range(&sim->invent, 1, 2);
		*end++ = 'F';
		if (number >= 100)
			*end++ = '1';
		*end++ = (char)('0' + number / 10 % 10);
		*end++ = (char)('0' + number % 10);
		for (int m = 0; m < sim->module_count; m++) /* swap what i and j feed */
			for (int k = 0; k < 2; k++) {
				int *f = &sim->modules[m].fuses[k];
				*f = *f == i ? j : *f == j ? i : *f;
			}
	}
}

void sim_invent_fuses(struct sim *sim)
{
	int fuse = -1, room = 0;

	for (int m = 0; m < sim->module_count; m++) {
		struct sim_module *module = &sim->modules[m];
		if (room == 0) {
			fuse = add_fuse(sim);
			room = sim_random_chance(&sim->invent, 45)
				       ? 1
				       : (int)sim_random_range(&sim->invent, 2, 4);
		}
		module->fuses[0] = fuse;
		room--;
		if (m > 3 && sim_random_chance(&sim->invent, 8))
			module->fuses[1] = (int)sim_random_range(&sim->invent, 0, fuse - 1);
		if (module->fuses[1] == module->fuses[0])
			module->fuses[1] = -1;
	}
	number_fuses(sim);
}
