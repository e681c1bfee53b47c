/* SPDX-License-Identifier: MIT */
/* A table of evidence that is counted instead of argued, and what it gains against the one
 * in use (lib/findings/evidence.c).
 *
 *     counted [--first SEED] [--seeds N] --world N            count, print the table
 *     counted [...] --world N --check FILE                    ... and compare it with FILE
 *     counted [...] --world N --table FILE                    score with a printed table
 *
 * Each sender of a network in trouble shows one outcome of each of five facets: network
 * management at the end, presence, data, wake-ups, isolation. A row is P(seen | cause) and
 * P(seen | follower), each (n + 1) / (N + outcomes of the facet), over sessions whose truth is
 * known. Scoring adds up the logarithms of their ratios, sender by sender, and shares out one
 * cause among all senders and something unseen.
 *
 * Several tables add up when --table is given several times: that is how cars that a workshop
 * has solved come in, as counts in the same form. This compares; the engine does not read it. */
#include <getopt.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "generator.h"
#include "weighing.h"

#define FACETS 5
#define OUTCOMES 6
#define SPOKE_LATELY_NS (45 * NOD_NS_PER_S) /* as in observe-traffic.c */
#define UNSEEN 0.5                          /* its prior, where a sender has 1 (posterior.c) */

static const char *const outcomes[FACETS][OUTCOMES] = {
	{"no-node", "ready", "requests-too", "requests-alone"},
	{"stopped", "goes-on", "alone"},
	{"still", "value", "lowest", "switch", "told"},
	{"no-wakes", "never-first", "at-times-first", "first"},
	{"not-tried", "unchanged", "slept", "proved"},
};
static const char *const facets[FACETS] = {"management", "presence", "data", "wake-ups",
					   "isolation"};

struct table {
	double seen[2][FACETS][OUTCOMES]; /* 0: followers, 1: causes */
	double all[2];
	unsigned sessions;
};

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
	const struct nod_tally *t = &w->tallies[sender];

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
		if (!w->tallies[s].present || w->tallies[s].tester)
			continue;
		bool cause = is_cause(truth, w->a->f, (int)s);
		look(w, (int)s, shown);
		table->all[cause]++;
		for (int k = 0; k < FACETS; k++)
			table->seen[cause][k][shown[k]]++;
	}
}

static int outcome_count(int facet)
{
	int count = 0;

	while (count < OUTCOMES && outcomes[facet][count])
		count++;
	return count;
}

/* Laplace's rule. */
static double probability(const struct table *table, int cause, int facet, int outcome)
{
	return (table->seen[cause][facet][outcome] + 1) /
	       (table->all[cause] + outcome_count(facet));
}

static void add_odds(const struct table *table, const struct nod_weighing *w, double *odds)
{
	int shown[FACETS];

	for (size_t s = 0; s < w->a->f->sender_count; s++) {
		if (!w->tallies[s].present || w->tallies[s].tester)
			continue;
		double sum = 0;
		look(w, (int)s, shown);
		for (int k = 0; k < FACETS; k++)
			sum += log(probability(table, 1, k, shown[k]) /
				   probability(table, 0, k, shown[k]));
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

static int judge(struct nod_engine *engine, const struct nod_truth *truth, struct table *table,
		 struct score *score)
{
	struct nod_arena arena = {0};
	struct nod_findings *today = nod_engine_findings(engine);
	struct nod_findings f = {.record_longer = NOD_DURATION_NONE, .culprit = NOD_NONE};
	struct nod_analysis a = {.engine = engine, .f = &f, .arena = &arena};
	int status = nod_analysis_copy(&a) || nod_analysis_find_holes(&a) ||
		     nod_analysis_find_wakes(&a) || nod_analysis_judge_isolations(&a);
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
			else if (!strcmp(f.networks[i].name, truth->network))
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

/* ---- in and out ---- */

static void print_table(FILE *out, const struct table *table, unsigned world,
			unsigned long long first, unsigned long long seeds)
{
	fprintf(out, "# Counted over %u sessions in trouble: world %u, seeds %llu to %llu.\n",
		table->sessions, world, first, first + seeds - 1);
	fprintf(out,
		"# facet outcome: of %.0f followers, of %.0f causes; P(seen | follower), "
		"P(seen | cause), log odds\n",
		table->all[0], table->all[1]);
	for (int k = 0; k < FACETS; k++)
		for (int o = 0; o < outcome_count(k); o++) {
			double follower = probability(table, 0, k, o);
			double cause = probability(table, 1, k, o);
			fprintf(out, "%-10s %-15s %7.0f %7.0f  %.4f  %.4f  %5.2f\n", facets[k],
				outcomes[k][o], table->seen[0][k][o], table->seen[1][k][o],
				follower, cause, log(cause / follower));
		}
}

/* 0 when the file says what was counted. */
static int check_table(const char *path, const struct table *table, unsigned world,
		       unsigned long long first, unsigned long long seeds)
{
	char *text = NULL, *kept = NULL;
	size_t size = 0, room = 0;
	FILE *out = open_memstream(&text, &size), *in = fopen(path, "re");
	int status = 1;

	if (out && in) {
		print_table(out, table, world, first, seeds);
		fflush(out);
		status = getdelim(&kept, &room, 0, in) < 0 || !text || strcmp(kept, text) != 0;
	}
	if (out)
		fclose(out);
	if (in)
		fclose(in);
	if (status)
		fprintf(stderr, "%s is not what is counted now:\n%s", path, text ? text : "");
	free(text);
	free(kept);
	return status;
}

/* Every row holds its counts, so several tables can be read one after the other and add up:
 * that is how a workshop's own solved cars come in. */
static int read_table(const char *path, struct table *table)
{
	char line[200], facet[16], outcome[20];
	double followers, causes;
	FILE *in = fopen(path, "re");

	if (!in) {
		perror(path);
		return -1;
	}
	while (fgets(line, sizeof(line), in)) {
		if (sscanf(line, "%15s %19s %lf %lf", facet, outcome, &followers, &causes) != 4)
			continue;
		for (int k = 0; k < FACETS; k++)
			for (int o = 0; o < outcome_count(k); o++) {
				if (strcmp(facet, facets[k]) || strcmp(outcome, outcomes[k][o]))
					continue;
				table->seen[0][k][o] += followers;
				table->seen[1][k][o] += causes;
				table->all[0] += k ? 0 : followers;
				table->all[1] += k ? 0 : causes;
			}
	}
	fclose(in);
	return 0;
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
	unsigned long long first, seeds;
	unsigned world;
	bool scoring;
	const char *check;
};

static int parse_options(int argc, char **argv, struct request *r, struct table *table)
{
	static const struct option options[] = {{"first", 1, NULL, 'f'}, {"seeds", 1, NULL, 'n'},
						{"world", 1, NULL, 'w'}, {"table", 1, NULL, 't'},
						{"check", 1, NULL, 'c'}, {NULL, 0, NULL, 0}};
	int option;

	while ((option = getopt_long(argc, argv, "", options, NULL)) != -1)
		switch (option) {
		case 'f':
			r->first = strtoull(optarg, NULL, 10);
			break;
		case 'n':
			r->seeds = strtoull(optarg, NULL, 10);
			break;
		case 'w':
			r->world = (unsigned)strtoul(optarg, NULL, 10);
			break;
		case 'c':
			r->check = optarg;
			break;
		case 't':
			r->scoring = true;
			if (read_table(optarg, table))
				return -1;
			break;
		default:
			return -1;
		}
	return 0;
}

int main(int argc, char **argv)
{
	struct request r = {.seeds = 4, .world = 1};
	struct table table = {0};
	struct score score = {0};

	if (parse_options(argc, argv, &r, &table))
		return 2;
	for (size_t i = 0; nod_generator_situation(i); i++)
		for (unsigned long long k = 0; k < r.seeds; k++)
			if (run(nod_generator_situation(i), r.first + k, r.world, &table,
				r.scoring ? &score : NULL))
				return 1;
	if (r.scoring)
		print_score(&score, r.world);
	else if (r.check)
		return check_table(r.check, &table, r.world, r.first, r.seeds);
	else
		print_table(stdout, &table, r.world, r.first, r.seeds);
	return 0;
}
