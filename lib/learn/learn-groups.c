/* SPDX-License-Identifier: MIT */
/* IDs that no module of the map claims, and that fall silent and start
 * together: offered as one unknown module.
 *
 * Only starts and stops count that the network did not share: after them (or
 * before them) others went on for several periods. All of two IDs' must agree,
 * and each agreement has a chance of happening by accident: the other's rate
 * of starts and stops times twice the tolerance. */
#include "learn-internal.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* A start or stop counts when the silence lasted so many periods of the ID.
 * Chosen: above NOD_HEARD_FACTOR, so that no ID's own rhythm makes it. */
#define EDGE_PERIODS 6
/* So many must be shared. Chosen: one is chance, on a network that goes to
 * sleep module by module. */
#define EDGES_MIN 2
/* Two IDs of a module start and stop within the longer of their periods, half
 * of it more for jitter, and this: a module does not boot in no time. Chosen. */
#define TOLERANCE_PERIODS 1.5
#define TOLERANCE_NS (NOD_NS_PER_S / 2)
/* Among so many unclaimed IDs groups are looked for. Chosen: bounds the work. */
#define CANDIDATES_MAX 1000

static int add_edge(struct nod_learn *learn, struct nod_learn_id *id, struct nod_learn_edge edge)
{
	if (id->edge_count == NOD_LEARN_EDGES) {
		id->dropped_edges = true;
		return 0;
	}
	if (!id->edges)
		id->edges = nod_arena_alloc(&learn->arena, NOD_LEARN_EDGES * sizeof(*id->edges));
	if (!id->edges)
		return -ENOMEM;
	id->edges[id->edge_count++] = edge;
	return 0;
}

int nod_learn_edges_add(struct nod_learn *learn, struct nod_learn_id *id,
			const struct nod_findings *f, const struct nod_network_finding *n,
			const struct nod_heard_id *heard)
{
	int64_t enough = EDGE_PERIODS * nod_heard_interval(heard).ns;
	int64_t before = f->start.ns;

	for (uint32_t i = 0; i <= heard->count; i++) {
		bool last = i == heard->count;
		nod_time from = last ? f->end : heard->stretches[i].from;
		int64_t silent = nod_network_awake(n, before, from.ns);
		struct nod_learn_edge stop = {learn->sessions, false, {before}, silent};
		struct nod_learn_edge start = {learn->sessions, true, from, silent};
		if (silent >= enough && i && add_edge(learn, id, stop))
			return -ENOMEM;
		if (silent >= enough && !last && add_edge(learn, id, start))
			return -ENOMEM;
		before = last ? before : heard->stretches[i].to.ns;
	}
	return 0;
}

static int64_t tolerance(const struct nod_learn_id *a, const struct nod_learn_id *b)
{
	int64_t longer = a->interval_ns > b->interval_ns ? a->interval_ns : b->interval_ns;

	return (int64_t)(TOLERANCE_PERIODS * (double)longer) + TOLERANCE_NS;
}

static bool has_edge(const struct nod_learn_id *id, const struct nod_learn_edge *edge,
		     int64_t within)
{
	for (size_t i = 0; i < id->edge_count; i++)
		if (id->edges[i].session == edge->session && id->edges[i].start == edge->start &&
		    llabs(nod_time_since(id->edges[i].time, edge->time).ns) <= within)
			return true;
	return false;
}

/* Those of a that b would show, too, if it came from the same module: how
 * many it shows, or -1 when it lacks one. */
static int shared_edges(const struct nod_learn_id *a, const struct nod_learn_id *b)
{
	int64_t within = tolerance(a, b);
	int shared = 0;

	for (size_t i = 0; i < a->edge_count; i++) {
		/* twice: awake time is measured from each one's own last frame */
		if (a->edges[i].silent_ns < 2 * EDGE_PERIODS * b->interval_ns)
			continue;
		if (!has_edge(b, &a->edges[i], within))
			return -1;
		shared++;
	}
	return shared;
}

/* The probability that two IDs belong together; *edges: what they share. */
static double together(const struct nod_learn_id *a, const struct nod_learn_id *b, unsigned *edges)
{
	int ab = shared_edges(a, b), ba = shared_edges(b, a);

	*edges = ab < ba ? (unsigned)(ab > 0 ? ab : 0) : (unsigned)(ba > 0 ? ba : 0);
	if (ab < EDGES_MIN || ba < EDGES_MIN || a->dropped_edges || b->dropped_edges)
		return 0;
	double chance = (double)b->edge_count * 2 * (double)tolerance(a, b) /
			(double)(b->awake_ns > 0 ? b->awake_ns : 1);
	double odds = NOD_LEARN_PRIOR_ODDS * pow(fmin(1, chance), -(double)*edges);
	return odds / (1 + odds);
}

static bool explained(const struct nod_lesson *lesson, const struct nod_learn_id *id)
{
	for (size_t s = 0; s < lesson->subject_count; s++)
		for (size_t i = 0; i < lesson->subjects[s].id_count; i++)
			if (lesson->subjects[s].ids[i].id == id->id &&
			    !strcmp(lesson->subjects[s].ids[i].network, id->network))
				return true;
	return false;
}

static size_t candidates(const struct nod_learn *learn, const struct nod_vehicle *vehicle,
			 struct nod_learn_id **list)
{
	size_t count = 0;

	for (size_t i = 0; i < learn->id_count && count < CANDIDATES_MAX; i++) {
		struct nod_learn_id *id = learn->ids[i];
		if (!id->tester && id->source_address < 0 && id->edge_count >= EDGES_MIN &&
		    nod_learn_owner(vehicle, id->network, id->id) == NOD_NONE &&
		    !explained(&learn->lesson, id))
			list[count++] = id;
	}
	return count;
}

static void join(struct nod_learn *learn, struct nod_learned_group *g,
		 const struct nod_learn_id *id, double sure, unsigned edges)
{
	g->ids[g->id_count++] = (struct nod_learned_id){.network = id->network,
							.id = id->id,
							.source_address = -1,
							.confidence = sure,
							.why = ""};
	g->edges = g->id_count <= 2 || edges < g->edges ? edges : g->edges;
	g->confidence = g->id_count <= 2 || sure < g->confidence ? sure : g->confidence;
	g->why = nod_arena_printf(&learn->conclusions,
				  "started and stopped together %u times while others went on",
				  g->edges);
}

/* The group of one ID: the later ones that belong to it. They are taken from
 * the list. */
static int gather(struct nod_learn *learn, struct nod_learn_id **list, size_t count, size_t first)
{
	struct nod_lesson *l = &learn->lesson;
	struct nod_learned_group *g = &l->groups[l->group_count];

	*g = (struct nod_learned_group){.network = list[first]->network};
	g->ids = nod_arena_alloc(&learn->conclusions, (count - first) * sizeof(*g->ids));
	if (!g->ids)
		return -ENOMEM;
	join(learn, g, list[first], 1, 0);
	for (size_t i = first + 1; i < count; i++) {
		unsigned edges;
		if (!list[i] || strcmp(list[i]->network, list[first]->network))
			continue;
		double sure = together(list[first], list[i], &edges);
		if (sure < NOD_LEARN_PERHAPS)
			continue;
		join(learn, g, list[i], sure, edges);
		list[i] = NULL;
	}
	if (g->id_count < 2)
		return 0;
	g->ids[0].confidence = g->confidence;
	g->name = nod_arena_printf(&learn->conclusions, "unknown module %zu", ++l->group_count);
	return 0;
}

int nod_learn_groups_conclude(struct nod_learn *learn, const struct nod_vehicle *vehicle)
{
	struct nod_lesson *l = &learn->lesson;
	struct nod_learn_id **list = nod_arena_alloc(&learn->conclusions,
						     CANDIDATES_MAX * sizeof(*list));

	l->groups = nod_arena_alloc(&learn->conclusions,
				    (CANDIDATES_MAX / 2 + 1) * sizeof(*l->groups));
	if (!list || !l->groups)
		return -ENOMEM;
	size_t count = candidates(learn, vehicle, list);
	for (size_t i = 0; i < count; i++)
		if (list[i] && gather(learn, list, count, i))
			return -ENOMEM;
	return 0;
}
