/* SPDX-License-Identifier: MIT */
/* One thing is changed that is not the car's, and the answer must stay: a map without
 * `networks:`, a message that a gateway routes on with its ID, a short noted gap, a clock that
 * is set, a culprit that the map does not know, a gateway that repeats the request of
 * network management.
 *
 *     metamorphic [--first SEED] [--seeds N] [--world N] [--change NAME] [--at-most PERCENT] [--show]
 *
 * Cars in which the engine names the true culprit with NAMED or more. Kept: it is first
 * still, and has not lost more than LOSS of its probability; without it in the map, whatever
 * is first is none of the map's. With --at-most, fails when more than so many percent of
 * the cars of a change are not kept. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "arguments.h"
#include "changed-play.h"

#define NAMED 0.8
#define LOSS 0.3

static const char *const names[CHANGES] = {"none",     "no-networks", "routed",     "gap",
					   "late-gap", "step",        "not-in-map", "coordinates"};

static const char *const situations[] = {
	"holder-autosar",  "holder-osek",    "lone-talker",    "staggered-shutdown",
	"stuck-input",     "gateway-holder", "repeated-waker", "spread-through-gateway",
	"isolation-right", "two-networks",   "sporadic-waker", "waker-through-gateway",
};
#define SITUATIONS (sizeof(situations) / sizeof(*situations))

struct answer {
	bool right; /* the first is the culprit, or (not in map) none of the map's */
	double probability;
	char first[80];
};

/* ---- the map ---- */

static void forget_networks(struct nod_vehicle *v)
{
	for (size_t m = 0; m < v->module_count; m++)
		v->modules[m].network_count = 0;
}

static void forget_module(struct nod_vehicle *v, const char *name)
{
	int m = nod_vehicle_module_by_name(v, name);

	if (m == NOD_NONE)
		return;
	v->modules[m].id_count = 0;
	v->modules[m].node_count = 0;
}

/* ---- who and what ---- */

static bool is_culprit(const struct nod_truth *truth, const char *name)
{
	for (int i = 0; i < truth->culprit_count; i++)
		if (!strcmp(truth->culprits[i], name))
			return true;
	return false;
}

static struct answer answer_of(const struct play *p, const struct nod_truth *truth)
{
	struct answer out = {false, 0, "nobody"};
	struct nod_findings *f = nod_engine_findings(p->engine);

	if (f && f->suspect_count) {
		const struct nod_suspect *s = &f->suspects[0];
		bool sender = s->kind == NOD_SUSPECT_SENDER;
		out.right = p->change == NOT_IN_MAP ? !sender || !s->in_map
						    : sender && is_culprit(truth, s->name);
		out.probability = s->probability;
		snprintf(out.first, sizeof(out.first), "%s", s->name);
	}
	nod_findings_free(f);
	return out;
}

static int interface_of(const struct play *p, const struct nod_truth_network *n)
{
	for (int i = 0; i < (int)p->interfaces->count; i++)
		if (!strcmp(p->interfaces->names[i], n->interface))
			return i;
	return -1;
}

/* The network-management message of a module within a layout; 0: none. */
static uint32_t request_of(const struct nod_module *m, const struct nod_nm_layout *nm)
{
	for (size_t i = 0; i < m->id_count; i++)
		if (nm->ids_given && m->ids[i].first >= nm->first_id &&
		    m->ids[i].last <= nm->last_id)
			return m->ids[i].first;
	return 0;
}

/* A gateway of the map that takes part in the management repeats what the culprit asks. */
static bool let_gateway_repeat(struct play *p, const struct nod_truth *truth)
{
	int culprit = nod_vehicle_module_by_name(p->vehicle, truth->culprits[0]);
	int network = nod_vehicle_network_of_interface(p->vehicle, p->interfaces->names[p->from]);
	const struct nod_nm_layout *nm = &p->vehicle->networks[network].nm;

	if (culprit == NOD_NONE || nm->scheme != NOD_NM_AUTOSAR || nm->node_byte != 0)
		return false;
	p->id = request_of(&p->vehicle->modules[culprit], nm);
	for (size_t m = 0; m < p->vehicle->module_count; m++)
		if (p->vehicle->modules[m].gateway && (int)m != culprit && !p->as)
			p->as = request_of(&p->vehicle->modules[m], nm);
	p->to = p->from;
	return p->id && p->as;
}

/* What is changed, where; false: it cannot be changed in this car. */
static bool prepare(struct play *p, const struct nod_truth *truth)
{
	p->from = p->to = -1;
	p->at.ns = truth->deadline.ns - BEFORE_DEADLINE_NS;
	if (p->change == LATE_GAP)
		p->at.ns = truth->deadline.ns + nod_time_since(truth->end, truth->deadline).ns / 2;
	if (p->change == NO_NETWORKS)
		forget_networks(p->vehicle);
	if (p->change == NOT_IN_MAP)
		forget_module(p->vehicle, truth->culprits[0]);
	if (p->change != ROUTED && p->change != COORDINATES)
		return true;
	for (int n = 0; n < truth->network_count; n++)
		if (!strcmp(truth->networks[n].name, truth->network))
			p->from = interface_of(p, &truth->networks[n]);
		else if (!truth->networks[n].hidden)
			p->to = interface_of(p, &truth->networks[n]);
	p->id = p->as = truth->ids[0][0];
	if (p->change == COORDINATES)
		return p->from >= 0 && let_gateway_repeat(p, truth);
	forget_networks(p->vehicle);
	return p->from >= 0 && p->to >= 0;
}

/* ---- one car ---- */

struct car {
	const char *situation;
	uint64_t seed;
	unsigned world;
};

/* Plays it with one change; false: it cannot be made. The truth is known at the end, so what
 * is changed is prepared with that of an earlier run (NULL: no change). */
static bool run(const struct car *car, enum change change, const struct nod_truth *known,
		struct answer *out, struct nod_generator **kept)
{
	const struct nod_generator_options options = {.frames = NOD_GENERATOR_FRAMES,
						      .world = car->world};
	static struct play p;
	const struct nod_event *event;
	struct nod_error err = {""};
	struct nod_generator *gen = nod_generator_open(car->situation, car->seed, &options, &err);
	const char *map = gen ? nod_generator_map(gen) : "";

	p = (struct play){.change = change, .from = -1};
	p.vehicle = nod_vehicle_parse(map, strlen(map), "map", &err);
	if (!p.vehicle) {
		fprintf(stderr, "%s %llu: %s\n", car->situation, (unsigned long long)car->seed,
			err.text);
		exit(1);
	}
	p.interfaces = nod_generator_interfaces(gen);
	bool can = !known || prepare(&p, known);
	if (nod_vehicle_index(p.vehicle))
		abort();
	p.engine = nod_engine_new(p.vehicle, p.interfaces);
	while (can && nod_generator_next(gen, &event))
		changed_play(&p, event);
	if (can) {
		const struct nod_truth *truth = nod_generator_truth(gen);
		nod_time end = {truth->end.ns + (p.stepped ? STEP_NS : 0)};
		changed_play_late(&p, truth->end);
		nod_engine_advance(p.engine, end);
		*out = answer_of(&p, truth);
	}
	nod_engine_free(p.engine);
	nod_vehicle_free(p.vehicle);
	if (kept)
		*kept = gen;
	else
		nod_generator_close(gen);
	return can;
}

struct score {
	unsigned cars, kept;
};

static void try_changes(const struct car *car, struct score *scores, int only, bool show)
{
	struct nod_generator *gen;
	struct answer before, after;

	run(car, NO_CHANGE, NULL, &before, &gen);
	const struct nod_truth *truth = nod_generator_truth(gen);
	bool named = before.right && before.probability >= NAMED && truth->culprit_count == 1 &&
		     truth->in_map[0];
	for (int c = NO_CHANGE + 1; named && c < CHANGES; c++) {
		if ((only && c != only) || !run(car, (enum change)c, truth, &after, NULL))
			continue;
		bool kept = after.right &&
			    (c == NOT_IN_MAP || after.probability >= before.probability - LOSS);
		scores[c].cars++;
		scores[c].kept += kept;
		if (show && !kept)
			printf("  %s %llu: %s: %.2f %s, was %.2f %s\n", car->situation,
			       (unsigned long long)car->seed, names[c], after.probability,
			       after.first, before.probability, before.first);
	}
	nod_generator_close(gen);
}

static int change_named(const char *name)
{
	for (int c = 0; c < CHANGES; c++)
		if (!strcmp(names[c], name))
			return c;
	fprintf(stderr, "no such change: %s\n", name);
	exit(2);
}

static int print(const struct score *scores, double at_most)
{
	int status = 0;

	printf("%-14s %5s %5s\n", "change", "cars", "kept");
	for (int c = NO_CHANGE + 1; c < CHANGES; c++) {
		const struct score *s = &scores[c];
		bool failed = 100.0 * (s->cars - s->kept) > at_most * s->cars;
		printf("%-14s %5u %5u%s\n", names[c], s->cars, s->kept, failed ? "  too few" : "");
		status |= failed;
	}
	return status;
}

int main(int argc, char **argv)
{
	struct score scores[CHANGES] = {{0}};
	unsigned long long first = 1000, seeds = 10;
	struct car car = {.world = 1};
	double at_most = 100;
	const char *only = NULL;
	bool show = false;
	const struct argument list[] = {{.name = "first", .whole = &first},
					{.name = "seeds", .whole = &seeds},
					{.name = "world", .number = &car.world},
					{.name = "change", .text = &only},
					{.name = "at-most", .real = &at_most},
					{.name = "show", .flag = &show},
					{0}};

	if (!arguments_take(list, argc, argv))
		return 2;
	for (size_t i = 0; i < SITUATIONS; i++)
		for (unsigned long long k = 0; k < seeds; k++) {
			car.situation = situations[i];
			car.seed = first + k;
			try_changes(&car, scores, only ? change_named(only) : 0, show);
		}
	return print(scores, at_most);
}
