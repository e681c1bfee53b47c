/* SPDX-License-Identifier: MIT */
/* A table of evidence that is counted instead of argued, and what it gains against the one
 * in use (lib/findings/evidence.c).
 *
 *     counted [--first SEED] [--seeds N] --world N            count, print the table
 *     counted [...] --world N --check FILE                    ... and compare it with FILE
 *     counted [...] --world N --table FILE                    score with a printed table
 *     counted --seeds 0 --solved SESSION=MODULE ...           count solved cars
 *
 * Each sender of a network in trouble shows one outcome of each of five facets: network
 * management at the end, presence, data, wake-ups, isolation. A row is P(seen | cause) and
 * P(seen | follower), each (n + 1) / (N + outcomes of the facet), over sessions whose truth is
 * known. Scoring adds up the logarithms of their ratios, sender by sender, and shares out one
 * cause among all senders and something unseen.
 *
 * Cars that a workshop has solved are counted by --solved, beside the invented ones or (--seeds
 * 0) alone; tables add up when --table is given several times. This compares; the engine does
 * not read it. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "arguments.h"
#include "counted-table.h"
#include "generator.h"
#include "session.h"
#include "weighing.h"

#define SPOKE_LATELY_NS (45 * NOD_NS_PER_S) /* as in observe-traffic.c */
#define UNSEEN 0.5                          /* its prior, where a sender has 1 (posterior.c) */

/* ---- what a sender shows ---- */

static int management_of(const struct nod_weighing *w, const struct nod_tally *t)
{
	if (!t->node)
		return 0;
	return !nod_weighing_requests(w, t) ? 1 : w->requesting > 1 ? 2 : 3;
}

static int presence_of(const struct nod_weighing *w, const struct nod_tally *t, int sender)
{
	if (w->lone == sender)
		return 2;
	return nod_time_is_set(t->last) && nod_time_since(w->end, t->last).ns < SPOKE_LATELY_NS;
}

static int wakes_of(const struct nod_weighing *w, const struct nod_tally *t)
{
	if (!w->wakes)
		return 0;
	return !t->first_of ? 1 : t->first_of * 3 < w->wakes * 2 ? 2 : 3;
}

static int isolation_of(const struct nod_weighing *w, int sender)
{
	const struct nod_findings *f = w->a->f;
	int outcome = 0;

	for (size_t i = 0; i < f->isolation_count; i++) {
		enum nod_isolation_result result = f->isolations[i].result;
		if (!nod_isolation_involves(w->a, &f->isolations[i], sender))
			continue;
		int here = result == NOD_ISOLATION_UNCHANGED ? 1
			   : result == NOD_ISOLATION_SLEPT   ? 2
			   : result == NOD_ISOLATION_PROVED  ? 3
							     : 0;
		outcome = here > outcome ? here : outcome;
	}
	return outcome;
}

static void look(const struct nod_weighing *w, int sender, int shown[FACETS])
{
	const struct nod_tally *t = w->tallies[sender];

	shown[0] = management_of(w, t);
	shown[1] = presence_of(w, t, sender);
	shown[2] = (int)t->data.kind;
	shown[3] = wakes_of(w, t);
	shown[4] = isolation_of(w, sender);
}

/* ---- one session ---- */

struct score {
	unsigned determined, first, first_today, accused, accused_today, suspects;
	double brier, brier_today;
};

static bool is_cause(const struct nod_truth *truth, const struct nod_findings *f, int sender)
{
	const struct nod_sender_finding *s = &f->senders[sender];

	for (int c = 0; c < truth->culprit_count; c++) {
		if (!strcmp(truth->culprits[c], s->name))
			return true;
		if (s->kind == NOD_SENDER_SOURCE_ADDRESS &&
		    (int)s->number == truth->source_address[c])
			return true;
		for (int i = 0; i < truth->id_count[c]; i++)
			if ((s->kind == NOD_SENDER_ID || s->kind == NOD_SENDER_NODE) &&
			    s->number == truth->ids[c][i])
				return true;
	}
	return false;
}

static bool weigh(struct nod_analysis *a, size_t network, struct nod_weighing *w)
{
	struct nod_network_finding *n = &a->f->networks[network];

	*w = (struct nod_weighing){.a = a, .n = n};
	w->held = n->verdict == NOD_VERDICT_KEPT_AWAKE;
	w->woken = n->verdict == NOD_VERDICT_WOKEN || (w->held && n->wakes);
	w->late = n->awake_late.ns;
	return (w->held || w->woken) && !nod_weighing_tally(w);
}

static void count_network(struct table *table, const struct nod_weighing *w,
			  const struct nod_truth *truth)
{
	int shown[FACETS];

	for (size_t s = 0; s < w->a->f->sender_count; s++) {
		if (!w->tallies[s]->present || w->tallies[s]->tester)
			continue;
		bool cause = is_cause(truth, w->a->f, (int)s);
		look(w, (int)s, shown);
		table->all[cause]++;
		for (int k = 0; k < FACETS; k++)
			table->seen[cause][k][shown[k]]++;
	}
}

static void add_odds(const struct table *table, const struct nod_weighing *w, double *odds)
{
	int shown[FACETS];

	for (size_t s = 0; s < w->a->f->sender_count; s++) {
		if (!w->tallies[s]->present || w->tallies[s]->tester)
			continue;
		double sum = 0;
		look(w, (int)s, shown);
		for (int k = 0; k < FACETS; k++)
			sum += log(table_probability(table, 1, k, shown[k]) /
				   table_probability(table, 0, k, shown[k]));
		odds[s] = odds[s] > 0 ? fmax(odds[s], exp(sum)) : exp(sum);
	}
}

static double today_of(const struct nod_findings *f, int sender)
{
	for (size_t i = 0; i < f->suspect_count; i++)
		if (f->suspects[i].kind == NOD_SUSPECT_SENDER && f->suspects[i].sender == sender)
			return f->suspects[i].probability;
	return 0;
}

static void compare(struct score *score, const struct nod_findings *today,
		    const struct nod_truth *truth, const double *odds)
{
	double total = UNSEEN, best = 0;
	bool first = false, accused = false, accused_today = false;

	for (size_t s = 0; s < today->sender_count; s++)
		total += odds[s];
	for (size_t s = 0; s < today->sender_count; s++) {
		bool cause = is_cause(truth, today, (int)s);
		double p = odds[s] / total, q = today_of(today, (int)s);
		first = odds[s] > best ? cause : first;
		best = fmax(best, odds[s]);
		accused |= !cause && p >= 0.9;
		accused_today |= !cause && q >= 0.9;
		score->brier += (p - cause) * (p - cause);
		score->brier_today += (q - cause) * (q - cause);
		score->suspects++;
	}
	score->accused += accused;
	score->accused_today += accused_today;
	if (!truth->determined)
		return;
	score->determined++;
	score->first += first;
	score->first_today += today->suspect_count &&
			      today->suspects[0].kind == NOD_SUSPECT_SENDER &&
			      is_cause(truth, today, today->suspects[0].sender);
}

/* Of a solved car it is known who it was, not on which network: where it was heard. */
static bool concerns(const struct nod_weighing *w, const struct nod_truth *truth)
{
	if (truth->network)
		return !strcmp(w->n->name, truth->network);
	for (size_t s = 0; s < w->a->f->sender_count; s++)
		if (w->tallies[s]->present && is_cause(truth, w->a->f, (int)s))
			return true;
	return false;
}

static int judge(struct nod_engine *engine, const struct nod_truth *truth, struct table *table,
		 struct score *score)
{
	struct nod_arena arena = {0};
	struct nod_findings *today = nod_engine_findings(engine);
	struct nod_findings f = {.record_longer = NOD_DURATION_NONE, .culprit = NOD_NONE};
	struct nod_analysis a = {.engine = engine, .f = &f, .arena = &arena};
	int status = nod_analysis_copy(&a) || nod_analysis_find_holes(&a);

	a.parked = !status && nod_analysis_is_parked(&a);
	status = status || nod_analysis_find_wakes(&a) || nod_analysis_judge_isolations(&a);
	double *odds = calloc(f.sender_count + 1, sizeof(*odds));

	if (!status && today && odds) {
		struct nod_weighing w;
		bool trouble = false;
		nod_analysis_judge_networks(&a);
		for (size_t i = 0; i < f.network_count; i++) {
			if (!weigh(&a, i, &w))
				continue;
			trouble = true;
			if (score)
				add_odds(table, &w, odds);
			else if (concerns(&w, truth))
				count_network(table, &w, truth);
		}
		if (score && trouble)
			compare(score, today, truth, odds);
		table->sessions += !score && trouble;
	}
	free(odds);
	nod_findings_free(today);
	nod_arena_free(&arena);
	return status;
}

static int run(const char *situation, uint64_t seed, unsigned world, struct table *table,
	       struct score *score)
{
	const struct nod_generator_options how = {.frames = NOD_GENERATOR_FRAMES, .world = world};
	struct nod_error err = {""};
	const struct nod_event *event;
	struct nod_generator *gen = nod_generator_open(situation, seed, &how, &err);
	const char *map = gen ? nod_generator_map(gen) : NULL;
	struct nod_vehicle *vehicle = map ? nod_vehicle_parse(map, strlen(map), "map", &err) : NULL;

	if (!vehicle) {
		fprintf(stderr, "%s %llu: %s\n", situation, (unsigned long long)seed, err.text);
		return -1;
	}
	struct nod_engine *engine = nod_engine_new(vehicle, nod_generator_interfaces(gen));
	while (nod_generator_next(gen, &event))
		nod_engine_take(engine, event);
	const struct nod_truth *truth = nod_generator_truth(gen);
	nod_engine_advance(engine, truth->end);
	int status = truth->culprit_count ? judge(engine, truth, table, score) : 0;
	nod_engine_free(engine);
	nod_vehicle_free(vehicle);
	nod_generator_close(gen);
	return status;
}

static int play(struct nod_session *session, const struct nod_truth *truth, struct table *table,
		struct nod_error *err)
{
	const char *map = nod_session_vehicle(session);
	struct nod_vehicle *vehicle = map ? nod_vehicle_load(map, err) : nod_vehicle_new();
	struct nod_engine *engine = vehicle ? nod_engine_new(vehicle,
							     nod_session_interfaces(session))
					    : NULL;
	const struct nod_event *event;
	nod_time end = NOD_TIME_NONE;
	int status = engine ? 1 : -1;

	while (status > 0 && (status = nod_session_next(session, &event, err)) > 0) {
		if (nod_engine_take(engine, event))
			status = -1;
		if (event->time.ns > end.ns)
			end = event->time;
	}
	if (!status) {
		nod_engine_advance(engine, end);
		status = judge(engine, truth, table, NULL);
	}
	nod_engine_free(engine);
	nod_vehicle_free(vehicle);
	return status;
}

/* "SESSION=MODULE": its cause is known. */
static int count_solved(const char *solved, struct table *table)
{
	struct nod_error err = {""};
	const char *equal = strrchr(solved, '=');
	char path[4096];
	struct nod_truth truth = {.culprit_count = 1, .source_address = {-1, -1}};

	if (!equal || !equal[1]) {
		fprintf(stderr, "%s: expected SESSION=MODULE\n", solved);
		return -1;
	}
	snprintf(path, sizeof(path), "%.*s", (int)(equal - solved), solved);
	truth.culprits[0] = equal + 1;
	struct nod_session *session = nod_session_open(path, &err);
	int status = session ? play(session, &truth, table, &err) : -1;
	if (status)
		fprintf(stderr, "%s: %s\n", solved, *err.text ? err.text : "cannot be judged");
	nod_session_close(session);
	return status;
}

static void print_score(const struct score *s, unsigned world)
{
	double n = s->suspects ? s->suspects : 1;

	printf("world %u: %u determined; first: counted %u, in use %u; sessions with an innocent at "
	       "0.9: counted %u, in use %u; Brier score: counted %.4f, in use %.4f over %u senders\n",
	       world, s->determined, s->first, s->first_today, s->accused, s->accused_today,
	       s->brier / n, s->brier_today / n, s->suspects);
}

struct request {
	struct counted_over over;
	bool scoring;
	const char *check;
};

static int parse_options(int argc, char **argv, struct request *r, struct table *table)
{
	const char *path = NULL, *solved = NULL;
	const struct argument list[] = {{.name = "first", .whole = &r->over.first},
					{.name = "seeds", .whole = &r->over.seeds},
					{.name = "world", .number = &r->over.world},
					{.name = "table", .text = &path},
					{.name = "check", .text = &r->check},
					{.name = "solved", .text = &solved},
					{0}};

	if (!arguments_take(list, argc, argv) || (path && table_read(path, table)) ||
	    (solved && count_solved(solved, table)))
		return -1;
	r->scoring = path;
	return 0;
}

int main(int argc, char **argv)
{
	struct request r = {.over = {.seeds = 4, .world = 1}};
	struct table table = {0};
	struct score score = {0};

	if (parse_options(argc, argv, &r, &table))
		return 2;
	for (size_t i = 0; nod_generator_situation(i); i++)
		for (unsigned long long k = 0; k < r.over.seeds; k++)
			if (run(nod_generator_situation(i), r.over.first + k, r.over.world, &table,
				r.scoring ? &score : NULL))
				return 1;
	if (r.scoring)
		print_score(&score, r.over.world);
	else if (r.check)
		return table_check(r.check, &table, &r.over);
	else
		table_print(stdout, &table, &r.over);
	return 0;
}
