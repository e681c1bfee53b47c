/* SPDX-License-Identifier: MIT */
/* How many isolations it takes to prove the culprit when somebody does what
 * nodoff proposes, beside pulling fuses in the order of the fuse box.
 *
 *     isolations [--first SEED] [--seeds N] [--situation NAME] [--log]
 *
 * Cars: one culprit that the map knows, holder or waker, whose trouble the
 * recording shows. The technician isolates what the first proposal says, waits
 * as long as it says, looks, and, when that is no proof, refits and looks again when the network
 * had slept; until an isolation is proved, nothing is proposed, or TRIES_MAX are
 * through. Whoever gives up goes on in fuse-box order: what that takes is
 * added to what was tried.
 *
 * What next-test.c chose was tried on seeds below 1000; report on later ones.
 *
 * Fuse-box order needs no simulation: it is the culprit's place among the
 * fuses of the vehicle file that feed modules and may be touched. A culprit on two
 * fuses is never cut off by one: that is counted as all fuses pulled in vain. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "arguments.h"
#include "engine.h"
#include "generator.h"
#include "isolations-score.h"

#define TRIES_MAX 12

/* After a refit without effect the technician turns to the next fuse. */
#define NEXT_S 60
/* Refit to look again: some more than that the mark explains what the refit woke, and, where
 * it had slept, than the time that the network is allowed. */
#define HELD_MORE_S 60

/* Where the clock is set, "so many minutes from now" is not said by time stamps. */
#define CLOCK_STEP "clock-step"

struct car {
	struct nod_generator *gen;
	struct nod_vehicle *vehicle;
	struct nod_engine *engine;
	struct nod_findings *found;
	const struct nod_truth *truth;
	int culprit;   /* index into the vehicle's modules */
	int box_order; /* what it takes in fuse-box order */
	bool determined;
	unsigned tries;
	int64_t behind; /* of the logger's clock, or ahead, ns */
	bool log;
};

static bool hangs_on(const struct nod_module *module, int fuse)
{
	for (size_t i = 0; i < module->fuse_count; i++)
		if (module->fuses[i] == fuse)
			return true;
	return false;
}

static bool is_forbidden(const struct nod_module *module)
{
	return nod_cautions_contain(module->cautions, module->caution_count, "airbag") ||
	       nod_cautions_contain(module->cautions, module->caution_count, "high-voltage");
}

/* Fuses that anybody would pull: they feed a module and no forbidden one. */
static bool is_pulled(const struct nod_vehicle *v, int fuse)
{
	bool feeds = false;

	for (size_t i = 0; i < v->module_count; i++)
		if (hangs_on(&v->modules[i], fuse)) {
			if (is_forbidden(&v->modules[i]))
				return false;
			feeds = true;
		}
	return feeds;
}

static int place_in_box(const struct car *car)
{
	const struct nod_vehicle *v = car->vehicle;
	bool two = v->modules[car->culprit].fuse_count > 1;
	int fuse = nod_vehicle_fuse_by_name(v, car->truth->fuses[0]), place = 0;

	for (int i = 0; i < (int)v->fuse_count; i++) {
		place += i == fuse || is_pulled(v, i);
		if (i == fuse && !two)
			break;
	}
	return place;
}

static void look(struct car *car, nod_time now)
{
	nod_findings_free(car->found);
	nod_engine_advance(car->engine, now);
	car->found = nod_engine_findings(car->engine);
	if (!car->found)
		abort();
}

/* Lets the car stand until the mark of this kind and subject is due; looks
 * before the mark is taken. */
static void stand_until(struct car *car, enum nod_mark_kind kind, const char *subject)
{
	const struct nod_event *event;

	while (nod_generator_next(car->gen, &event)) {
		bool due = event->kind == NOD_EVENT_MARK && event->mark.kind == kind &&
			   !strcmp(event->mark.subject, subject);
		if (due)
			look(car, event->time);
		nod_engine_take(car->engine, event);
		if (due)
			return;
	}
	abort(); /* the recording is long enough for all that is tried */
}

/* A mark is entered up to 4 s after the deed. */
#define TICK_S 6
#define BEYOND_S 30

/* Keeps recording until some seconds from now, and beyond. The simulation steps
 * from event to event, and may have none for days in a sleeping car: where the
 * recording would have ended it always stops. Where a logger's clock is behind, all
 * waits for its samples, which then come every few seconds. */
static void keep_recording(struct car *car, double seconds)
{
	int64_t end = nod_generator_now(car->gen).ns + (int64_t)((seconds + TICK_S) * 1e9);
	int64_t more = end - nod_generator_end(car->gen).ns;

	if (more > 0)
		nod_generator_extend(car->gen, (nod_duration){more});
	nod_generator_extend(car->gen, (nod_duration){BEYOND_S * NOD_NS_PER_S + car->behind});
}

/* What the technician does so many seconds from now. */
static bool act(struct car *car, enum nod_mark_kind kind, const char *subject, double seconds)
{
	nod_duration after = {(int64_t)(seconds * 1e9)};

	keep_recording(car, seconds);
	return nod_generator_act(car->gen, kind, subject, after) == 0;
}

static const struct nod_isolation_finding *last_isolation(const struct car *car)
{
	return car->found->isolation_count
		       ? &car->found->isolations[car->found->isolation_count - 1]
		       : NULL;
}

static const char *result_name(enum nod_isolation_result result)
{
	static const char *const names[] = {"undecided", "slept", "proved", "unchanged", "not off"};
	return names[result];
}

/* PROVED, WRONG, or SILENT while nothing is proved. */
static enum outcome proof(const struct car *car)
{
	for (size_t i = 0; i < car->found->isolation_count; i++) {
		const struct nod_isolation_finding *t = &car->found->isolations[i];
		bool right = t->module == car->culprit ||
			     hangs_on(&car->vehicle->modules[car->culprit], t->fuse) ||
			     (t->fuse != NOD_NONE &&
			      !strcmp(car->vehicle->fuses[t->fuse].name, car->truth->fuses[0]));
		if (t->result == NOD_ISOLATION_PROVED)
			return right ? PROVED : WRONG;
	}
	return SILENT;
}

static void show(const struct car *car)
{
	const struct nod_isolation_finding *t = last_isolation(car);

	if (t)
		printf(": %s (by chance %.3f, refit %.2f): %s\n      ", result_name(t->result),
		       t->by_chance, t->refit_by_chance, t->text);
	for (size_t i = 0; i < car->found->suspect_count && i < 4; i++)
		printf(" %.2f %s,", car->found->suspects[i].probability,
		       car->found->suspects[i].name);
	printf("\n");
}

/* One isolation as proposed. False when the journal of the simulation is full. */
static bool try_proposal(struct car *car, const struct nod_test_proposal *p)
{
	const char *subject = p->fuse != NOD_NONE ? car->vehicle->fuses[p->fuse].name
						  : car->vehicle->modules[p->module].name;

	if (car->log)
		printf("    %s, %.0f min, hit %.2f", p->what, p->minutes, p->hit);
	if (!act(car, NOD_MARK_ISOLATED, subject, NEXT_S) ||
	    !act(car, NOD_MARK_REFITTED, subject, NEXT_S + p->minutes * 60))
		return false;
	car->tries++;
	stand_until(car, NOD_MARK_REFITTED, subject);
	const struct nod_isolation_finding *t = last_isolation(car);
	if (proof(car) == SILENT) {
		size_t network = !t || t->network == NOD_NONE ? 0 : (size_t)t->network;
		double allowed = (double)car->vehicle->networks[network].sleeps_within.ns / 1e9;
		bool slept = t && t->result == NOD_ISOLATION_SLEPT;
		if (!act(car, NOD_MARK_NOTE, "look", HELD_MORE_S + (slept ? allowed : 0)))
			return false;
		stand_until(car, NOD_MARK_NOTE, "look");
	}
	if (car->log)
		show(car);
	return true;
}

static enum outcome play(struct car *car)
{
	enum outcome known;

	while ((known = proof(car)) == SILENT && car->tries < TRIES_MAX) {
		if (!car->found->proposal_count)
			return SILENT;
		if (!try_proposal(car, &car->found->proposals[0]))
			return TRIED_OUT;
	}
	return known == SILENT ? TRIED_OUT : known;
}

static bool open_car(struct car *car, const char *situation, uint64_t seed)
{
	const struct nod_generator_options options = {.frames = NOD_GENERATOR_FRAMES,
						      .no_interventions = true};
	struct nod_error err = {""};

	car->gen = nod_generator_open(situation, seed, &options, &err);
	const char *map = car->gen ? nod_generator_map(car->gen) : NULL;
	car->vehicle = map ? nod_vehicle_parse(map, strlen(map), "map", &err) : NULL;
	if (!car->vehicle) {
		fprintf(stderr, "%s %llu: %s\n", situation, (unsigned long long)seed, err.text);
		abort();
	}
	car->engine = nod_engine_new(car->vehicle, nod_generator_interfaces(car->gen));
	car->truth = nod_generator_truth(car->gen);
	car->behind = car->truth->has_current ? llabs(car->truth->current_clock.ns) : 0;
	const char *role = car->truth->role;
	if ((strcmp(role, "holder") && strcmp(role, "waker")) || car->truth->culprit_count != 1 ||
	    !car->truth->in_map[0])
		return false;
	car->culprit = nod_vehicle_module_by_name(car->vehicle, car->truth->culprits[0]);
	int fuse = nod_vehicle_fuse_by_name(car->vehicle, car->truth->fuses[0]);
	return car->culprit != NOD_NONE && fuse != NOD_NONE &&
	       !is_forbidden(&car->vehicle->modules[car->culprit]) &&
	       (is_pulled(car->vehicle, fuse) || !car->vehicle->modules[car->culprit].fuse_count);
}

static void close_car(struct car *car)
{
	nod_findings_free(car->found);
	nod_engine_free(car->engine);
	nod_vehicle_free(car->vehicle);
	nod_generator_close(car->gen);
}

/* Records as planned, then goes on for as long as anybody may need. */
static void record(struct car *car)
{
	double planned = (double)nod_time_since(nod_generator_end(car->gen),
						nod_generator_now(car->gen))
				 .ns /
			 1e9;

	if (!act(car, NOD_MARK_NOTE, "planned end", planned))
		abort();
	stand_until(car, NOD_MARK_NOTE, "planned end");
	car->truth = nod_generator_truth(car->gen);
	car->determined = car->truth->determined;
}

static void count(struct score *s, const struct car *car, enum outcome outcome)
{
	unsigned order = (unsigned)car->box_order;
	unsigned tries = car->tries + (outcome == PROVED ? 0 : order);

	if (s->cases == CASES_MAX)
		return;
	s->tries[s->cases] = tries;
	s->order[s->cases++] = order;
	s->outcomes[outcome]++;
	s->sum += tries;
	s->sum_order += order;
	s->determined += car->determined;
	s->sum_determined += car->determined ? tries : 0;
	s->order_determined += car->determined ? order : 0;
}

static void run(struct score *s, struct score *total, const char *situation, uint64_t seed,
		bool log)
{
	struct car car = {.log = log};

	if (open_car(&car, situation, seed)) {
		record(&car);
		if (car.truth->verdict_determined) {
			car.box_order = place_in_box(&car);
			if (log)
				printf("  %s seed %llu: %s %s on %s, determined %d, box order %d\n"
				       "    %s\n",
				       situation, (unsigned long long)seed, car.truth->role,
				       car.truth->culprits[0], car.truth->fuses[0], car.determined,
				       car.box_order, car.found->sentence);
			enum outcome outcome = play(&car);
			if (log)
				printf("    -> %d after %u\n", (int)outcome, car.tries);
			count(s, &car, outcome);
			count(total, &car, outcome);
		}
	}
	close_car(&car);
}

int main(int argc, char **argv)
{
	static struct score total;
	unsigned long long first = 1000, seeds = 20;
	const char *only = NULL;
	bool log = false;
	const struct argument list[] = {{.name = "first", .whole = &first},
					{.name = "seeds", .whole = &seeds},
					{.name = "situation", .text = &only},
					{.name = "log", .flag = &log},
					{0}};

	if (!arguments_take(list, argc, argv))
		return 2;
	printf("%-24s %5s %6s %5s %6s %6s  %6s %6s  %6s %6s  %5s  %5s %6s %6s\n", "situation",
	       "cases", "proved", "wrong", "silent", "tried", "nodoff", "median", "box", "median",
	       "ratio", "deter", "nodoff", "box");
	for (size_t i = 0; nod_generator_situation(i); i++) {
		const char *name = nod_generator_situation(i);
		struct score score = {0};
		if ((only && strcmp(only, name)) || !strcmp(name, CLOCK_STEP))
			continue;
		for (unsigned long long k = 0; k < seeds; k++)
			run(&score, &total, name, first + k, log);
		print_score(name, &score);
		fflush(stdout);
	}
	print_score("all", &total);
	return 0;
}
