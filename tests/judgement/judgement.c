/* SPDX-License-Identifier: MIT */
/* How well the culprit is told from the followers: every situation of the
 * generator, over many seeds, judged by the engine and scored by the truth.
 *
 *     judgement [--first SEED] [--seeds N] [--situation NAME] [--world N] [--misses]
 *
 * Strengths were chosen on seeds below 1000; report on seeds from 1000 on. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "arguments.h"
#include "engine.h"
#include "generator.h"

#define ACCUSED 0.9 /* an innocent at this probability is a false accusation */
#define NAMED 0.5   /* what the sentence needs to name somebody */

struct score {
	unsigned cases, determined, first, among_three, named_wrong;
	unsigned accused;          /* cases with an innocent at ACCUSED or more */
	unsigned silent_could;     /* determined, but nobody named */
	unsigned silent_could_not; /* not determined, and nobody named: right so */
	unsigned verdict_right, verdict_cases;
	unsigned false_claims; /* sleeps, wake-ups, network management that never were */
};

struct calibration {
	unsigned count[10], right[10];
	double sum[10], brier;
	unsigned total;
};

/* A sender that the map does not know, but that sends what the culprit sends. */
static bool sends_its_ids(const struct nod_truth *truth, int culprit,
			  const struct nod_sender_finding *sender)
{
	if (sender->kind == NOD_SENDER_SOURCE_ADDRESS)
		return (int)sender->number == truth->source_address[culprit];
	if (sender->kind != NOD_SENDER_ID && sender->kind != NOD_SENDER_NODE)
		return false;
	for (int i = 0; i < truth->id_count[culprit]; i++)
		if (truth->ids[culprit][i] == sender->number)
			return true;
	return false;
}

static bool is_culprit(const struct nod_truth *truth, const struct nod_findings *f,
		       const struct nod_suspect *s)
{
	if (s->kind != NOD_SUSPECT_SENDER)
		return false;
	const struct nod_sender_finding *sender = &f->senders[s->sender];
	if (!strcmp(truth->role, "tester"))
		return sender->kind == NOD_SENDER_TESTER;
	for (int i = 0; i < truth->culprit_count; i++)
		if (!strcmp(truth->culprits[i], s->name) || sends_its_ids(truth, i, sender))
			return true;
	return false;
}

static void calibrate(struct calibration *c, double p, bool right)
{
	int bin = p >= 1 ? 9 : (int)(p * 10);

	c->count[bin]++;
	c->right[bin] += right;
	c->sum[bin] += p;
	c->brier += (p - right) * (p - right);
	c->total++;
}

static const struct nod_network_finding *network_of(const struct nod_findings *f, const char *name)
{
	for (size_t i = 0; i < f->network_count; i++)
		if (!strcmp(f->networks[i].name, name))
			return &f->networks[i];
	return NULL;
}

/* True when a network is said to have slept that never did, to have woken more often than it
 * did, or to have network management that it has not. */
static bool is_false_claim(const struct nod_truth *truth, const struct nod_findings *f)
{
	for (int i = 0; i < truth->network_count; i++) {
		const struct nod_truth_network *t = &truth->networks[i];
		const struct nod_network_finding *n = network_of(f, t->name);
		if (!n)
			continue;
		if (nod_time_is_set(n->first_slept_at) && !nod_time_is_set(t->slept_at))
			return true;
		if (n->wakes + n->wakes_explained > t->wakes)
			return true;
		if (!strcmp(t->scheme, "none") && strncmp(n->management, "none", 4) != 0)
			return true;
	}
	return false;
}

static void judge(struct score *s, struct calibration *c, const struct nod_truth *truth,
		  const struct nod_findings *f)
{
	bool first = false, among = false, accused = false, named = f->culprit != NOD_NONE;

	for (size_t i = 0; i < f->suspect_count; i++) {
		const struct nod_suspect *suspect = &f->suspects[i];
		bool right = is_culprit(truth, f, suspect);
		if (suspect->kind != NOD_SUSPECT_SENDER)
			continue;
		calibrate(c, suspect->probability, right);
		first |= right && i == 0;
		among |= right && i < 3;
		accused |= !right && suspect->probability >= ACCUSED;
	}
	s->cases++;
	s->accused += accused;
	s->false_claims += is_false_claim(truth, f);
	if (truth->verdict_determined) {
		s->verdict_cases++;
		s->verdict_right += !strcmp(truth->verdict, nod_verdict_name(f->verdict));
	}
	if (truth->determined && truth->culprit_count + !strcmp(truth->role, "tester")) {
		s->determined++;
		s->first += first;
		s->among_three += among;
		s->silent_could += !named;
		s->named_wrong += named && !first;
	} else {
		s->silent_could_not += !named;
		s->named_wrong += named && !first;
	}
}

static void show_miss(const struct nod_truth *truth, const struct nod_findings *f)
{
	bool culprit = truth->culprit_count > 0;

	printf("  %s seed %llu: truth %s, %s %s%s%s, determined %d (%s)\n    said: %s\n",
	       truth->situation, (unsigned long long)truth->seed, truth->verdict, truth->role,
	       culprit ? truth->culprits[0] : "-", truth->culprit_count > 1 ? " + " : "",
	       truth->culprit_count > 1 ? truth->culprits[1] : "", truth->determined, truth->why,
	       f->sentence);
	for (size_t i = 0; i < f->suspect_count && i < 3; i++) {
		printf("    %.2f %s:", f->suspects[i].probability, f->suspects[i].name);
		for (size_t k = 0; k < f->suspects[i].evidence_count; k++)
			printf(" %s %.1f", nod_evidence_rule(f->suspects[i].evidence[k].kind)->name,
			       f->suspects[i].evidence[k].weight);
		printf("\n");
	}
}

static int run(struct score *s, struct calibration *c, const char *situation, uint64_t seed,
	       unsigned world, bool misses)
{
	struct nod_error err = {""};
	const struct nod_event *event;
	const struct nod_generator_options how = {.frames = NOD_GENERATOR_FRAMES, .world = world};
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
	struct nod_findings *f = nod_engine_findings(engine);
	struct score before = *s;
	judge(s, c, truth, f);
	if (misses &&
	    (s->named_wrong > before.named_wrong || s->accused > before.accused ||
	     s->silent_could > before.silent_could ||
	     s->verdict_right - before.verdict_right != s->verdict_cases - before.verdict_cases))
		show_miss(truth, f);
	nod_findings_free(f);
	nod_engine_free(engine);
	nod_vehicle_free(vehicle);
	nod_generator_close(gen);
	return 0;
}

static void add(struct score *to, const struct score *s)
{
	to->cases += s->cases;
	to->determined += s->determined;
	to->first += s->first;
	to->among_three += s->among_three;
	to->named_wrong += s->named_wrong;
	to->accused += s->accused;
	to->false_claims += s->false_claims;
	to->silent_could += s->silent_could;
	to->silent_could_not += s->silent_could_not;
	to->verdict_right += s->verdict_right;
	to->verdict_cases += s->verdict_cases;
}

static void print_score(const char *name, const struct score *s)
{
	printf("%-24s %5u %5u %5u/%-5u %5u %6u %7u %7u %6u %5u/%-5u %6u\n", name, s->cases,
	       s->determined, s->first, s->determined, s->among_three, s->named_wrong, s->accused,
	       s->silent_could, s->silent_could_not, s->verdict_right, s->verdict_cases,
	       s->false_claims);
}

static void print_calibration(const struct calibration *c)
{
	printf("\nsaid     suspects  mean   right\n");
	for (int i = 0; i < 10; i++)
		if (c->count[i])
			printf("%2d-%3d %%  %7u  %.3f  %.3f\n", i * 10, i * 10 + 10, c->count[i],
			       c->sum[i] / c->count[i], (double)c->right[i] / c->count[i]);
	printf("Brier score %.4f over %u suspects\n", c->brier / (c->total ? c->total : 1),
	       c->total);
}

int main(int argc, char **argv)
{
	unsigned long long first = 1000, seeds = 20;
	const char *only = NULL;
	unsigned world = 1;
	bool misses = false;
	const struct argument list[] = {
		{.name = "first", .whole = &first},   {.name = "seeds", .whole = &seeds},
		{.name = "situation", .text = &only}, {.name = "world", .number = &world},
		{.name = "misses", .flag = &misses},  {0}};

	if (!arguments_take(list, argc, argv))
		return 2;
	struct score total = {0};
	struct calibration calibration = {0};
	printf("world %u: %s\n", world,
	       nod_generator_world(world) ? nod_generator_world(world) : "?");
	printf("%-24s %5s %5s %11s %5s %6s %7s %7s %6s %11s %6s\n", "situation", "cases", "deter",
	       "named first", "of 3", "wrong", "accused", "silent!", "silent", "verdict", "claims");
	for (size_t i = 0; nod_generator_situation(i); i++) {
		const char *name = nod_generator_situation(i);
		struct score score = {0};
		if (only && strcmp(only, name))
			continue;
		for (unsigned long long k = 0; k < seeds; k++)
			if (run(&score, &calibration, name, first + k, world, misses))
				return 1;
		print_score(name, &score);
		fflush(stdout);
		add(&total, &score);
	}
	print_score("all", &total);
	print_calibration(&calibration);
	return 0;
}
