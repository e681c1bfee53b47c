/* SPDX-License-Identifier: MIT */
/* Healthy cars in which somebody pulls a fuse just before the network sleeps by itself, a
 * little after the deadline of a map that is too strict: what is said of the innocent
 * that hangs on it?
 *
 *     coincidences [--first SEED] [--seeds N] [--world N] [--random] [--at-most PERCENT]
 *
 * (Who else is named, as the last that asked for the network, did keep it awake past that
 * deadline, and is not counted.) By how far past the deadline the fuse was pulled, and how long before the sleep. Half of the
 * cars have it refitted after ten minutes and sleep again with it. With --at-most, fails
 * when more than so many percent are proved or called 0.9 and more: by the standard of
 * chance.h up to 5 % may be.
 *
 * With --random the fuses are pulled at random moments of the time past a random deadline, and
 * the chances that are said are held against how often they come: of all pulls, no more than
 * x % may be called less likely than x % by chance. Whose is named there is not counted: past
 * such a deadline somebody did keep it awake. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "arguments.h"
#include "engine.h"
#include "generator.h"
#include "uniform.h"

#define ACCUSED 0.9
#define NAMED 0.5
#define BACK_S 600.0
#define AFTER_S 3600

static const double late_s[] = {3, 30, 120, 600}, before_s[] = {5, 30, 120};
#define LATES (sizeof(late_s) / sizeof(*late_s))
#define BEFORES (sizeof(before_s) / sizeof(*before_s))

static const double levels[] = {0.05, 0.1, 0.2, 0.5};
#define LEVELS (sizeof(levels) / sizeof(*levels))

struct score {
	unsigned cars, proved, accused, named, both_ways;
	unsigned below[LEVELS]; /* isolations said to be less likely than this by chance */
};

struct car {
	struct nod_generator *gen;
	struct nod_vehicle *vehicle;
	struct nod_engine *engine;
	uint64_t seed, pull; /* of this car; which fuse it is */
	unsigned world;
	nod_time lock, slept; /* the latter: the last of its networks; NONE: not all sleep */
	const char *network;
};

static void open_car(struct car *car)
{
	const struct nod_generator_options options = {
		.frames = NOD_GENERATOR_FRAMES, .world = car->world, .no_interventions = true};
	struct nod_error err = {""};

	car->gen = nod_generator_open("healthy", car->seed, &options, &err);
	const char *map = car->gen ? nod_generator_map(car->gen) : NULL;
	car->vehicle = map ? nod_vehicle_parse(map, strlen(map), "map", &err) : NULL;
	if (!car->vehicle) {
		fprintf(stderr, "healthy %llu: %s\n", (unsigned long long)car->seed, err.text);
		exit(1);
	}
}

static void close_car(struct car *car)
{
	nod_engine_free(car->engine);
	nod_vehicle_free(car->vehicle);
	nod_generator_close(car->gen);
	car->engine = NULL;
}

/* When it sleeps by itself: the last of its networks. */
static void find_sleep(struct car *car)
{
	const struct nod_event *event;

	open_car(car);
	while (nod_generator_next(car->gen, &event))
		continue;
	const struct nod_truth *truth = nod_generator_truth(car->gen);
	car->lock = truth->lock;
	car->slept = NOD_TIME_NONE;
	for (int n = 0; n < truth->network_count; n++)
		if (nod_time_is_set(truth->networks[n].slept_at) &&
		    truth->networks[n].slept_at.ns > car->slept.ns)
			car->slept = truth->networks[n].slept_at;
	close_car(car);
}

/* A fuse that feeds a module that is no gateway, by the seed; NULL: none. */
static const char *choose_fuse(const struct car *car)
{
	const struct nod_vehicle *v = car->vehicle;

	for (size_t k = 0; k < v->module_count; k++) {
		const struct nod_module *m =
			&v->modules[(k + car->seed + car->pull) % v->module_count];
		if (!m->gateway && m->fuse_count == 1)
			return v->fuses[m->fuses[0]].name;
	}
	return NULL;
}

/* Feeds what happens up to a time, or all. */
static void stand_until(struct car *car, nod_time until)
{
	const struct nod_event *event;

	while (nod_generator_now(car->gen).ns < until.ns && nod_generator_next(car->gen, &event))
		nod_engine_take(car->engine, event);
}

static bool hangs_on(const struct nod_suspect *s, int fuse)
{
	for (size_t i = 0; i < s->fuse_count; i++)
		if (s->fuses[i] == fuse)
			return true;
	return false;
}

static void count_level(struct score *s, const struct nod_isolation_finding *t)
{
	bool slept = t->result == NOD_ISOLATION_SLEPT || t->result == NOD_ISOLATION_PROVED;

	for (size_t i = 0; slept && i < LEVELS; i++)
		s->below[i] += t->by_chance <= levels[i];
}

static void look(struct score *s, const struct car *car, int fuse)
{
	struct nod_findings *f = nod_engine_findings(car->engine);
	bool accused = false, named = false, proved = false;

	for (size_t i = 0; f && i < f->suspect_count; i++) {
		bool on_it = hangs_on(&f->suspects[i], fuse);
		accused |= on_it && f->suspects[i].probability >= ACCUSED;
		named |= on_it && f->suspects[i].probability >= NAMED;
	}
	for (size_t i = 0; f && i < f->isolation_count; i++) {
		proved |= f->isolations[i].result == NOD_ISOLATION_PROVED;
		s->both_ways += strstr(f->isolations[i].text, "both ways") != NULL;
		count_level(s, &f->isolations[i]);
	}
	s->cars++;
	s->accused += accused;
	s->named += named;
	s->proved += proved;
	nod_findings_free(f);
}

static void run(struct score *s, struct car *car, double late, double before)
{
	nod_time pulled = {car->slept.ns - (int64_t)(before * 1e9)};
	nod_time deadline = {pulled.ns - (int64_t)(late * 1e9)};

	open_car(car);
	const char *fuse = choose_fuse(car);
	nod_time now = nod_generator_now(car->gen);
	nod_time lock = nod_generator_truth(car->gen)->lock;
	double from_now = (double)nod_time_since(pulled, now).ns / 1e9;
	for (size_t n = 0; n < car->vehicle->network_count; n++)
		car->vehicle->networks[n].sleeps_within = nod_time_since(deadline, lock);
	car->engine = nod_engine_new(car->vehicle, nod_generator_interfaces(car->gen));
	nod_generator_extend(car->gen, nod_seconds(AFTER_S));
	bool can = fuse && from_now > 1 && deadline.ns > lock.ns + nod_seconds(20).ns &&
		   !nod_generator_act(car->gen, NOD_MARK_ISOLATED, fuse,
				      (nod_duration){(int64_t)(from_now * 1e9)});
	if (can && car->seed % 2)
		nod_generator_act(car->gen, NOD_MARK_REFITTED, fuse,
				  (nod_duration){(int64_t)((from_now + BACK_S) * 1e9)});
	if (can) {
		stand_until(car, (nod_time){INT64_MAX});
		nod_engine_advance(car->engine, nod_generator_truth(car->gen)->end);
		look(s, car, nod_vehicle_fuse_by_name(car->vehicle, fuse));
	}
	close_car(car);
}

/* The deadline in the later two thirds of what the car takes, the pull anywhere after it. */
#define EARLIEST_SHARE 0.33
#define PULLS_PER_CAR 6

static void pull_at_random(struct score *s, struct car *car)
{
	uint64_t state = car->seed;

	find_sleep(car);
	if (!nod_time_is_set(car->slept))
		return;
	double length = (double)nod_time_since(car->slept, car->lock).ns / 1e9;
	for (int i = 0; i < PULLS_PER_CAR; i++) {
		double past = (1 - EARLIEST_SHARE) * length * uniform(&state);
		double late = past * uniform(&state);
		car->pull = (uint64_t)(1000 * uniform(&state));
		run(s, car, late, past - late);
	}
}

static int report_random(const struct score *s, double at_most)
{
	printf("%u pulls at random moments: proved %u; less likely by chance than", s->cars,
	       s->proved);
	for (size_t i = 0; i < LEVELS; i++)
		printf("%s %.0f %%: %u (%.1f %%)", i ? "," : "", 100 * levels[i], s->below[i],
		       100.0 * s->below[i] / (s->cars ? s->cars : 1));
	printf("\n");
	return 100.0 * s->proved > at_most * s->cars;
}

static int report_grid(struct car *car, unsigned long long first, unsigned long long seeds,
		       double at_most)
{
	struct score all = {0};

	printf("%12s %12s %5s %7s %8s %6s %10s\n", "past due, s", "asleep in, s", "cars", "proved",
	       "accused", "named", "both ways");
	for (size_t l = 0; l < LATES; l++)
		for (size_t b = 0; b < BEFORES; b++) {
			struct score s = {0};
			for (unsigned long long k = 0; k < seeds; k++) {
				car->seed = first + k;
				find_sleep(car);
				if (nod_time_is_set(car->slept))
					run(&s, car, late_s[l], before_s[b]);
			}
			printf("%12.0f %12.0f %5u %7u %8u %6u %10u\n", late_s[l], before_s[b],
			       s.cars, s.proved, s.accused, s.named, s.both_ways);
			all.cars += s.cars;
			all.proved += s.proved;
			all.accused += s.accused;
		}
	unsigned worst = all.proved > all.accused ? all.proved : all.accused;
	return 100.0 * worst > at_most * all.cars;
}

struct request {
	unsigned long long first, seeds;
	double at_most;
	bool random;
};

static bool parse_options(int argc, char **argv, struct request *r, struct car *car)
{
	const struct argument list[] = {
		{.name = "first", .whole = &r->first},    {.name = "seeds", .whole = &r->seeds},
		{.name = "world", .number = &car->world}, {.name = "at-most", .real = &r->at_most},
		{.name = "random", .flag = &r->random},   {0}};

	if (!arguments_take(list, argc, argv))
		return false;
	return true;
}

int main(int argc, char **argv)
{
	struct request r = {.first = 1000, .seeds = 20, .at_most = 100};
	struct car car = {.world = 1};
	struct score all = {0};

	if (!parse_options(argc, argv, &r, &car))
		return 2;
	if (!r.random)
		return report_grid(&car, r.first, r.seeds, r.at_most);
	for (car.seed = r.first; car.seed < r.first + r.seeds; car.seed++)
		pull_at_random(&all, &car);
	return report_random(&all, r.at_most);
}
