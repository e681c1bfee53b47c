/* SPDX-License-Identifier: MIT */
/* How well IDs are learned from isolations: of those proposed for what was
 * isolated last, how many hang on it (precision), and of those that hang on it and
 * could be told, how many are proposed (recall).
 *
 *     learning [--first SEED] [--seeds N] [--sessions N] [--frames N] [--misses]
 *
 * An ID hangs on the subject when the isolation took its module's power or
 * plug; the generator knows. One could be told when it was being sent
 * then and others of its network went on for three of its periods. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "arguments.h"
#include "engine.h"
#include "generator.h"
#include "learn.h"

struct score {
	unsigned cases, without;                           /* cases in which nothing was proposed */
	unsigned sure, sure_right, perhaps, perhaps_right; /* proposed IDs */
	unsigned hang, found, found_perhaps; /* IDs that hang on it and could be told */
};

struct session {
	struct nod_generator *gen;
	struct nod_vehicle *vehicle;
	struct nod_engine *engine;
	struct nod_heard *heard;
	struct nod_findings *findings;
};

static void end(struct session *s)
{
	nod_findings_free(s->findings);
	nod_engine_free(s->engine);
	nod_heard_free(s->heard);
	nod_vehicle_free(s->vehicle);
	nod_generator_close(s->gen);
}

static int play(struct session *s, const char *situation, uint64_t seed, unsigned session,
		int64_t frames)
{
	struct nod_generator_options options = {.frames = frames, .session = session};
	struct nod_error err = {""};
	const struct nod_event *event;

	memset(s, 0, sizeof(*s));
	s->gen = nod_generator_open(situation, seed, &options, &err);
	const char *map = s->gen ? nod_generator_map(s->gen) : NULL;
	s->vehicle = map ? nod_vehicle_parse(map, strlen(map), "map", &err) : NULL;
	if (!s->vehicle) {
		fprintf(stderr, "%s %llu: %s\n", situation, (unsigned long long)seed, err.text);
		return -1;
	}
	s->engine = nod_engine_new(s->vehicle, nod_generator_interfaces(s->gen));
	s->heard = nod_heard_new();
	if (!s->engine || !s->heard)
		return -1;
	while (nod_generator_next(s->gen, &event))
		if (nod_engine_take(s->engine, event) ||
		    nod_heard_take(s->heard, event, nod_engine_clock_shift(s->engine)))
			return -1;
	nod_engine_advance(s->engine, nod_generator_truth(s->gen)->end);
	s->findings = nod_engine_findings(s->engine);
	return s->findings ? 0 : -1;
}

static bool is_among(const uint32_t *ids, int count, uint32_t id)
{
	for (int i = 0; i < count; i++)
		if (ids[i] == id)
			return true;
	return false;
}

/* Others of its network were heard for three of its periods after `time`. */
static bool goes_on(const struct session *s, const struct nod_heard_id *id, nod_time time)
{
	int64_t until = time.ns + 3 * nod_heard_interval(id).ns;

	for (size_t i = 0; i < nod_heard_count(s->heard); i++) {
		const struct nod_heard_id *h = nod_heard_id(s->heard, i);
		for (uint32_t k = 0; h->interface == id->interface && k < h->count; k++)
			if (h->stretches[k].from.ns <= time.ns && h->stretches[k].to.ns >= until)
				return true;
	}
	return false;
}

/* Was it being sent when the mark was entered (a few seconds more or less), and
 * did its network stay awake for three of its periods after that? */
static bool could_be_told(const struct session *s, uint32_t id, nod_time time)
{
	for (size_t i = 0; i < nod_heard_count(s->heard); i++) {
		const struct nod_heard_id *h = nod_heard_id(s->heard, i);
		for (uint32_t k = 0; h->id == id && k < h->count; k++)
			if (h->stretches[k].from.ns <= time.ns &&
			    h->stretches[k].to.ns >= time.ns - 5 * NOD_NS_PER_S)
				return goes_on(s, h, h->stretches[k].to);
	}
	return false;
}

static double proposed(const struct nod_learned_subject *subject, uint32_t id)
{
	for (size_t i = 0; subject && i < subject->id_count; i++)
		if (subject->ids[i].id == id)
			return subject->ids[i].confidence;
	return 0;
}

static void count_proposed(struct score *score, const struct nod_truth *truth,
			   const struct nod_learned_subject *subject, bool misses)
{
	for (size_t i = 0; subject && i < subject->id_count; i++) {
		const struct nod_learned_id *id = &subject->ids[i];
		bool right = is_among(truth->off_ids, truth->off_id_count, id->id);
		bool sure = id->confidence >= NOD_LEARN_SURE;
		if (id->confidence < NOD_LEARN_PERHAPS)
			continue;
		score->sure += sure;
		score->sure_right += sure && right;
		score->perhaps += !sure;
		score->perhaps_right += !sure && right;
		if (misses && !right)
			printf("  wrong: seed %llu %s %X %.3f: %s\n",
			       (unsigned long long)truth->seed, subject->name, id->id,
			       id->confidence, id->why);
	}
}

static void count_found(struct score *score, const struct session *s, const struct nod_truth *truth,
			const struct nod_learned_subject *subject, bool misses)
{
	nod_time time = s->findings->isolations[s->findings->isolation_count - 1].isolated;

	for (int i = 0; i < truth->off_id_count; i++) {
		double sure = proposed(subject, truth->off_ids[i]);
		if (!could_be_told(s, truth->off_ids[i], time))
			continue;
		score->hang++;
		score->found += sure >= NOD_LEARN_SURE;
		score->found_perhaps += sure >= NOD_LEARN_PERHAPS;
		if (misses && sure < NOD_LEARN_SURE)
			printf("  missed: seed %llu %s %X %.3f\n", (unsigned long long)truth->seed,
			       subject ? subject->name : "-", truth->off_ids[i], sure);
	}
}

static const struct nod_learned_subject *last_subject(const struct nod_lesson *lesson,
						      const struct nod_findings *f)
{
	const char *name = f->isolations[f->isolation_count - 1].subject;

	for (size_t i = 0; i < lesson->subject_count; i++)
		if (!strcmp(lesson->subjects[i].name, name))
			return &lesson->subjects[i];
	return NULL;
}

static int run(struct score *score, const char *situation, uint64_t seed, unsigned sessions,
	       int64_t frames, bool misses)
{
	struct nod_learn *learn = nod_learn_new();
	int status = learn ? 0 : -1;

	for (unsigned k = 0; !status && k < sessions; k++) {
		struct session s;
		status = play(&s, situation, seed, k, frames);
		if (!status)
			status = nod_learn_add(learn, s.findings, s.heard,
					       nod_generator_interfaces(s.gen));
		if (!status && k + 1 == sessions && s.findings->isolation_count) {
			const struct nod_lesson *lesson = nod_learn_conclude(learn, s.vehicle);
			const struct nod_truth *truth = nod_generator_truth(s.gen);
			const struct nod_learned_subject *subject = last_subject(lesson,
										 s.findings);
			score->cases++;
			score->without += !subject || !subject->id_count;
			count_proposed(score, truth, subject, misses);
			count_found(score, &s, truth, subject, misses);
		}
		end(&s);
	}
	nod_learn_free(learn);
	return status;
}

static double percent(unsigned part, unsigned all)
{
	return all ? 100.0 * part / all : 0;
}

int main(int argc, char **argv)
{
	static const char *const situations[] = {"unplugged-unknown", "isolation-right",
						 "isolation-wrong", "isolation-search"};
	unsigned long long first = 1000, seeds = 100, sessions = 1, frames = NOD_GENERATOR_FRAMES;
	bool misses = false;
	const struct argument list[] = {
		{.name = "first", .whole = &first},       {.name = "seeds", .whole = &seeds},
		{.name = "sessions", .whole = &sessions}, {.name = "frames", .whole = &frames},
		{.name = "misses", .flag = &misses},      {0}};

	if (!arguments_take(list, argc, argv))
		return 2;
	printf("%-20s %5s %7s %14s %17s %14s %17s\n", "situation", "cases", "nothing",
	       "IDs proposed", "right (precision)", "could be told", "proposed (recall)");
	for (size_t i = 0; i < sizeof(situations) / sizeof(*situations); i++) {
		struct score s = {0};
		for (unsigned long long k = 0; k < seeds; k++)
			if (run(&s, situations[i], first + k, (unsigned)sessions, (int64_t)frames,
				misses))
				return 1;
		printf("%-20s %5u %7u %14u %8u (%5.1f %%) %14u %8u (%5.1f %%)\n", situations[i],
		       s.cases, s.without, s.sure, s.sure_right, percent(s.sure_right, s.sure),
		       s.hang, s.found, percent(s.found, s.hang));
		printf("%-20s %5s %7s %14u %8u (%5.1f %%) %14s %8u (%5.1f %%)\n",
		       "  with \"perhaps\"", "", "", s.sure + s.perhaps,
		       s.sure_right + s.perhaps_right,
		       percent(s.sure_right + s.perhaps_right, s.sure + s.perhaps), "",
		       s.found_perhaps, percent(s.found_perhaps, s.hang));
		fflush(stdout);
	}
	return 0;
}
