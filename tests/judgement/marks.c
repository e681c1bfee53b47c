/* SPDX-License-Identifier: MIT */
/* How well it is told from the traffic what a person did: the journal kept exactly, late,
 * not at all, or under wrong names, in the situations in which something is pulled; and
 * what is seen in cars that nobody touches.
 *
 *     marks [--first SEED] [--seeds N] [--frames N] [--late SECONDS] [--show]
 *
 * Date errors are those of the marks against what was really done. Judgement with each
 * habit stands beside that with an exact journal. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "arguments.h"
#include "engine.h"
#include "generator.h"

#define ACCUSED 0.9
#define ERRORS_MAX 100000

static const char *const situations[] = {"isolation-right", "isolation-wrong", "isolation-search",
					 "isolation-too-brief", "unplugged-unknown"};
#define SITUATIONS (sizeof(situations) / sizeof(situations[0]))

struct score {
	unsigned cases, determined, first, accused, verdicts, verdict_cases;
	double brier;
	unsigned suspects;
	double errors[ERRORS_MAX], entered[ERRORS_MAX]; /* s */
	size_t error_count;
	unsigned acts, dated;
	unsigned done, seen, seen_as; /* acts; seen in the traffic; ... under the right name */
	unsigned false_pulls;         /* seen, but nobody did it */
	unsigned doors;               /* asked about */
	double hours;
};

static bool is_culprit(const struct nod_truth *truth, const struct nod_findings *f,
		       const struct nod_suspect *s)
{
	enum nod_sender_kind kind = f->senders[s->sender].kind;

	if (!strcmp(truth->role, "tester"))
		return kind == NOD_SENDER_TESTER;
	for (int i = 0; i < truth->culprit_count; i++)
		if (truth->in_map[i] ? !strcmp(truth->culprits[i], s->name)
				     : kind == NOD_SENDER_ID || kind == NOD_SENDER_NODE)
			return true;
	return false;
}

static void show_miss(const struct nod_truth *truth, const struct nod_findings *f)
{
	printf("MISS %s %llu: %s; said: %s\n", truth->situation, (unsigned long long)truth->seed,
	       truth->culprit_count ? truth->culprits[0] : "-", f->sentence);
	for (size_t i = 0; i < f->isolation_count; i++)
		printf("    %s\n", f->isolations[i].text);
	for (size_t i = 0; i < f->suspect_count && i < 3; i++) {
		printf("    %.2f %s:", f->suspects[i].probability, f->suspects[i].name);
		for (size_t k = 0; k < f->suspects[i].evidence_count; k++)
			printf(" %s %.1f", nod_evidence_rule(f->suspects[i].evidence[k].kind)->name,
			       f->suspects[i].evidence[k].weight);
		printf("\n");
	}
}

static void judge(struct score *s, const struct nod_truth *truth, const struct nod_findings *f,
		  bool show)
{
	bool first = false, accused = false;

	for (size_t i = 0; i < f->suspect_count; i++) {
		const struct nod_suspect *suspect = &f->suspects[i];
		if (suspect->kind != NOD_SUSPECT_SENDER)
			continue;
		bool right = is_culprit(truth, f, suspect);
		first |= right && i == 0;
		accused |= !right && suspect->probability >= ACCUSED;
		s->brier += (suspect->probability - right) * (suspect->probability - right);
		s->suspects++;
	}
	if (show && (accused || (truth->determined && truth->culprit_count && !first)))
		show_miss(truth, f);
	s->cases++;
	s->accused += accused;
	s->verdict_cases += truth->verdict_determined;
	s->verdicts += truth->verdict_determined &&
		       !strcmp(truth->verdict, nod_verdict_name(f->verdict));
	if (truth->determined && truth->culprit_count) {
		s->determined++;
		s->first += first;
	}
}

/* The mark of an act: the next one of its kind in the journal. */
static const struct nod_mark_finding *next_mark(const struct nod_findings *f, size_t *at, bool off)
{
	int kind = off ? NOD_MARK_ISOLATED : NOD_MARK_REFITTED;

	for (; *at < f->mark_count; (*at)++)
		if (f->marks[*at].kind == kind)
			return &f->marks[(*at)++];
	return NULL;
}

static void measure_dates(struct score *s, const struct nod_generator *gen,
			  const struct nod_findings *f, bool show)
{
	struct nod_generator_act act;
	size_t at = 0;

	for (size_t i = 0; nod_generator_act_done(gen, i, &act); i++) {
		const struct nod_mark_finding *m = next_mark(f, &at, act.off);
		if (!m || s->error_count == ERRORS_MAX)
			continue;
		double error = (double)(m->time.ns - act.time.ns) / 1e9;
		s->acts++;
		s->dated += m->dated_by > 0;
		if (show)
			printf("  %s %s: entered %+.1f s, dated %+.1f s by %u\n",
			       act.off ? "off" : "on", act.subject,
			       (double)(m->entered.ns - act.time.ns) / 1e9, error, m->dated_by);
		s->entered[s->error_count] = fabs((double)(m->entered.ns - act.time.ns) / 1e9);
		s->errors[s->error_count++] = fabs(error);
	}
}

/* Acts that the traffic showed, noted or not, and such that were none. */
#define SAME_S 15.

static bool is_seen(const struct nod_findings *f, const struct nod_generator_act *act, bool *named)
{
	int kind = act->off ? NOD_MARK_ISOLATED : NOD_MARK_REFITTED;
	bool seen = false;

	*named = false;
	for (size_t i = 0; i < f->mark_count; i++) {
		const struct nod_mark_finding *m = &f->marks[i];
		double off = (double)(m->time.ns - act->time.ns) / 1e9;
		if (m->kind != kind || !m->dated_by || fabs(off) > SAME_S)
			continue;
		seen = true;
		*named |= !strcasecmp(m->meant ? m->meant : m->subject, act->subject);
	}
	return seen;
}

static void count_seen(struct score *s, const struct nod_generator *gen,
		       const struct nod_findings *f, bool show)
{
	struct nod_generator_act act;
	bool named;

	for (size_t i = 0; nod_generator_act_done(gen, i, &act); i++) {
		bool seen = is_seen(f, &act, &named);
		s->done++;
		s->seen += seen;
		s->seen_as += seen && named;
		if (show)
			printf("  %s %s: %s\n", act.off ? "off" : "on", act.subject,
			       !seen   ? "NOT SEEN"
			       : named ? "seen"
				       : "seen as another");
	}
	for (size_t k = 0; k < f->mark_count; k++) {
		const struct nod_mark_finding *m = &f->marks[k];
		bool real = false;
		for (size_t i = 0; nod_generator_act_done(gen, i, &act); i++)
			real |= fabs((double)(m->time.ns - act.time.ns) / 1e9) <= SAME_S;
		s->false_pulls += m->inferred && m->kind == NOD_MARK_ISOLATED && !real;
		if (show && m->inferred && !real)
			printf("  FALSE %s %s at %.1f by %u\n",
			       nod_mark_kind_name((enum nod_mark_kind)m->kind), m->subject,
			       (double)(m->time.ns - f->lock.ns) / 1e9, m->dated_by);
	}
	for (size_t k = 0; k < f->question_count; k++)
		s->doors += f->questions[k].kind == NOD_MARK_DOOR;
	s->hours += (double)(f->end.ns - f->start.ns) / 3600e9;
}

static int run(struct score *s, const char *situation, uint64_t seed,
	       const struct nod_generator_options *options, bool show)
{
	struct nod_error err = {""};
	const struct nod_event *event;
	struct nod_generator *gen = nod_generator_open(situation, seed, options, &err);
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
	if (show)
		printf("%s %llu\n", situation, (unsigned long long)seed);
	judge(s, truth, f, show);
	measure_dates(s, gen, f, show);
	count_seen(s, gen, f, show);
	nod_findings_free(f);
	nod_engine_free(engine);
	nod_vehicle_free(vehicle);
	nod_generator_close(gen);
	return 0;
}

static int compare(const void *a, const void *b)
{
	double x = *(const double *)a, y = *(const double *)b;
	return (x > y) - (x < y);
}

static double quantile(double *values, size_t count, double share)
{
	qsort(values, count, sizeof(*values), compare);
	return count ? values[(size_t)(share * (double)(count - 1))] : NAN;
}

static void print(const char *habit, struct score *s)
{
	printf("%-12s %5u  %4u/%-4u %5.1f %% %7u %5u/%-5u %.4f  %4u/%-4u %6.1f %6.1f  %6.1f %6.1f\n",
	       habit, s->cases, s->first, s->determined,
	       s->determined ? 100. * s->first / s->determined : 0, s->accused, s->verdicts,
	       s->verdict_cases, s->brier / (s->suspects ? s->suspects : 1), s->dated, s->acts,
	       quantile(s->entered, s->error_count, 0.5),
	       quantile(s->entered, s->error_count, 0.95), quantile(s->errors, s->error_count, 0.5),
	       quantile(s->errors, s->error_count, 0.95));
	printf("             of %u acts %u seen in the traffic, %u under the right name; %u seen that "
	       "were none in %.1f h\n",
	       s->done, s->seen, s->seen_as, s->false_pulls, s->hours);
}

/* Cars that nobody touches: all situations without interventions. */
static int run_undisturbed(unsigned long long first, unsigned long long seeds,
			   struct nod_generator_options how, bool show)
{
	static struct score score;

	how.habit = NOD_HABIT_EXACT;
	how.no_interventions = true;
	for (size_t i = 0; nod_generator_situation(i); i++)
		for (unsigned long long k = 0; k < seeds; k++)
			if (run(&score, nod_generator_situation(i), first + k, &how, show))
				return 1;
	printf("undisturbed: %u pulls seen and %u doors asked about in %.1f h, %.4f and %.4f an hour\n",
	       score.false_pulls, score.doors, score.hours, score.false_pulls / score.hours,
	       score.doors / score.hours);
	return 0;
}

int main(int argc, char **argv)
{
	static const char *const habits[] = {"usual", "exact", "late", "forgets", "misnames"};
	unsigned long long first = 1000, seeds = 20;
	struct nod_generator_options how = {.frames = 200000};
	int64_t late = 120;
	const char *only = NULL;
	bool show = false;
	const struct argument list[] = {{.name = "first", .whole = &first},
					{.name = "seeds", .whole = &seeds},
					{.name = "frames", .integer = &how.frames},
					{.name = "late", .integer = &late},
					{.name = "habit", .text = &only},
					{.name = "show", .flag = &show},
					{0}};

	if (!arguments_take(list, argc, argv))
		return 2;
	how.late = nod_seconds(late);
	printf("journal      cases  named first       accused   verdict  Brier      dated  entered: "
	       "50 %%  95 %%  dated: 50 %% 95 %%\n");
	for (int habit = 0; habit < 5; habit++) {
		static struct score score;
		if (only && strcmp(only, habits[habit]))
			continue;
		memset(&score, 0, sizeof(score));
		how.habit = (enum nod_generator_habit)habit;
		for (size_t i = 0; i < SITUATIONS; i++)
			for (unsigned long long k = 0; k < seeds; k++)
				if (run(&score, situations[i], first + k, &how, show))
					return 1;
		print(habits[habit], &score);
		fflush(stdout);
	}
	return !only || !strcmp(only, "undisturbed") ? run_undisturbed(first, seeds, how, show) : 0;
}
