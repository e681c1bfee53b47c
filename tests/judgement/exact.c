/* SPDX-License-Identifier: MIT */
/* The engine beside a reader who knows the world: small cars out of two worlds whose every
 * probability stands below, so that what a recording says of each module can be counted out.
 *
 *     exact [--first SEED] [--cars N] [--woken] [--at-most POINTS]
 *
 * 2 to 4 modules of one cyclic message each, on one network without management, with a map.
 *
 * Kept awake: one module, each as likely, talks on for 25 minutes. Each other one stops by itself
 * in STOPS, thins out in THINS; a bit of its data moves in MOVES (that of the cause in
 * CAUSE_MOVES, who thins out in CAUSE_THINS and never stops). The posterior is their product.
 *
 * Woken (--woken): 1 to 6 times, by a module or by a wake-up line, each as likely. The module
 * speaks at once; every other one a time to start after it that is its own in each car (one of
 * STARTS steps) and fewer than LATER steps more each time. On a line, all start so after a moment
 * that is not seen. The posterior sums over all times to start and all moments.
 *
 * Nobody's engine knows these numbers; the distance is what not knowing them costs together with
 * what the engine does not use. Fails when the counted posterior's own Brier score is not the
 * one it expects, within CALIBRATED deviations, and with --at-most when it is more than so many
 * hundredths better than the engine's. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "arguments.h"
#include "engine.h"
#include "uniform.h"

#define MODULES_MAX 4
#define WAKES_MAX 6
#define MOVES_MAX 64
#define CALIBRATED 4.0

/* The worlds. Chosen; no car's. */
#define STOPS 0.3
#define THINS 0.4
#define CAUSE_THINS 0.05
#define MOVES 0.1
#define CAUSE_MOVES 0.6
#define THINNER 4
#define MOVE_MEAN_S 45.0
#define STEP_NS (10 * NOD_NS_PER_MS)
#define STARTS 20
#define LATER 3

#define LOCK_S 60.0
#define DEADLINE_S 120.0
#define KEPT_S 1500.0
#define BEGIN_NS (1700000000 * NOD_NS_PER_S)

struct module {
	double period_s;
	bool stops, thins;
	double moves[MOVES_MAX]; /* s since the begin */
	int move_count, start;   /* steps */
};

struct car {
	uint64_t random;
	bool woken;
	int modules, cause; /* cause == modules: the line */
	struct module module[MODULES_MAX];
	int wakes, first[WAKES_MAX][MODULES_MAX]; /* of each wake-up: steps */
	double end_s;
	struct nod_frame *frames;
	size_t count, capacity;
};

static double between(struct car *car, double low, double high)
{
	return low + (high - low) * uniform(&car->random);
}

static bool chance(struct car *car, double p)
{
	return uniform(&car->random) < p;
}

/* ---- what is recorded ---- */

static void send(struct car *car, int module, double at)
{
	const struct module *m = &car->module[module];
	struct nod_frame f = {.time = {BEGIN_NS + (int64_t)(at * NOD_NS_PER_S)},
			      .id = 0x210 + 0x40 * (uint32_t)module,
			      .length = 4,
			      .data = {0x20, (uint8_t)(0x31 + module), 0x7C}};
	int moved = 0;

	while (moved < m->move_count && m->moves[moved] <= at)
		moved++;
	f.data[0] |= (uint8_t)(moved % 2 << 2);
	if (car->count == car->capacity) {
		car->capacity = car->capacity ? 2 * car->capacity : 4096;
		car->frames = realloc(car->frames, car->capacity * sizeof(*car->frames));
		if (!car->frames)
			abort();
	}
	car->frames[car->count++] = f;
}

/* Every `period_s`, each frame up to 2 % of it late. */
static void talk(struct car *car, int module, double from, double to, double period_s)
{
	for (double at = from; at < to; at += period_s)
		send(car, module, at == from ? at : at + 0.02 * period_s * uniform(&car->random));
}

static int by_time(const void *a, const void *b)
{
	int64_t x = ((const struct nod_frame *)a)->time.ns;
	int64_t y = ((const struct nod_frame *)b)->time.ns;

	return (x > y) - (x < y);
}

/* ---- kept awake ---- */

static void live_kept(struct car *car, int index)
{
	struct module *m = &car->module[index];
	bool cause = car->cause == index;
	double slow = LOCK_S + between(car, 5, 40), stop = car->end_s;

	m->stops = !cause && chance(car, STOPS);
	m->thins = chance(car, cause ? CAUSE_THINS : THINS);
	if (m->stops)
		stop = between(car, slow + 10, car->end_s - 90);
	double at = LOCK_S - MOVE_MEAN_S * log(1 - uniform(&car->random));
	if (chance(car, cause ? CAUSE_MOVES : MOVES))
		for (; at < car->end_s && m->move_count < MOVES_MAX;
		     at -= MOVE_MEAN_S * log(1 - uniform(&car->random)))
			m->moves[m->move_count++] = at;
	talk(car, index, between(car, 0, m->period_s), slow, m->period_s);
	talk(car, index, slow + m->period_s, stop, m->period_s * (m->thins ? THINNER : 1));
}

static double share(bool seen, double p)
{
	return seen ? p : 1 - p;
}

static void count_kept(const struct car *car, double *likelihood)
{
	for (int i = 0; i < car->modules; i++) {
		const struct module *m = &car->module[i];
		bool moves = m->move_count > 0;
		likelihood[i] = m->stops
					? 0
					: share(m->thins, CAUSE_THINS) * share(moves, CAUSE_MOVES) /
						  (share(m->thins, THINS) * share(moves, MOVES) *
						   (1 - STOPS));
	}
	likelihood[car->modules] = 0;
}

/* ---- woken ---- */

static void live_woken(struct car *car)
{
	double at = LOCK_S;

	for (int i = 0; i < car->modules; i++) {
		car->module[i].start = 1 + (int)(STARTS * uniform(&car->random));
		talk(car, i, between(car, 0, car->module[i].period_s), at + between(car, 30, 45),
		     car->module[i].period_s);
	}
	at += 45;
	for (int k = 0; k < car->wakes; k++) {
		at = floor(at + between(car, 120, 900));
		double until = at + between(car, 20, 40);
		for (int i = 0; i < car->modules; i++) {
			int later = (int)(LATER * uniform(&car->random));
			car->first[k][i] = i == car->cause ? 0 : car->module[i].start + later;
			talk(car, i, at + car->first[k][i] * (double)STEP_NS / NOD_NS_PER_S,
			     until + between(car, 0, 5), car->module[i].period_s);
		}
		at = until + 5;
	}
	car->end_s = at + 300;
}

/* That `i` woke them: over the times to start of each other one. */
static double woke(const struct car *car, int i)
{
	double all = 1;

	for (int j = 0; j < car->modules; j++) {
		double sum = 0;
		for (int start = 1; j != i && start <= STARTS; start++) {
			double p = 1;
			for (int k = 0; k < car->wakes; k++) {
				int later = car->first[k][j] - car->first[k][i] - start;
				p *= later >= 0 && later < LATER ? 1.0 / LATER : 0;
			}
			sum += p / STARTS;
		}
		all *= j == i ? 1 : sum;
	}
	return all;
}

/* That a line did, with these times to start: over the moments of each wake-up. */
static double line_with(const struct car *car, const int *start)
{
	double all = 1;

	for (int k = 0; k < car->wakes && all > 0; k++) {
		int moments = 0;
		for (int moment = car->first[k][0] - start[0] - LATER + 1;
		     moment <= car->first[k][0] - start[0]; moment++) {
			bool fits = true;
			for (int j = 0; j < car->modules; j++) {
				int later = car->first[k][j] - moment - start[j];
				fits &= later >= 0 && later < LATER;
			}
			moments += fits;
		}
		all *= moments * pow(1.0 / LATER, car->modules);
	}
	return all;
}

static double line(const struct car *car)
{
	int start[MODULES_MAX] = {1, 1, 1, 1}, at = 0;
	double sum = 0;

	while (at < car->modules) {
		sum += line_with(car, start);
		for (at = 0; at < car->modules && ++start[at] > STARTS; at++)
			start[at] = 1;
	}
	return sum / pow(STARTS, car->modules);
}

/* ---- a car ---- */

static void invent(struct car *car, uint64_t seed, bool woken)
{
	*car = (struct car){.random = seed * 2 + woken, .woken = woken};
	car->modules = 2 + (int)(uniform(&car->random) * (MODULES_MAX - 1));
	car->cause = (int)(uniform(&car->random) * (car->modules + woken));
	car->wakes = woken ? 1 + (int)(uniform(&car->random) * WAKES_MAX) : 0;
	car->end_s = LOCK_S + KEPT_S;
	for (int i = 0; i < car->modules; i++)
		car->module[i].period_s = floor(between(car, 2, 12)) *
					  (chance(car, 0.5) ? 0.1 : 0.05);
	if (woken)
		live_woken(car);
	for (int i = 0; !woken && i < car->modules; i++)
		live_kept(car, i);
	qsort(car->frames, car->count, sizeof(*car->frames), by_time);
}

static void count_out(const struct car *car, double *exact)
{
	double sum = 0;

	if (!car->woken)
		count_kept(car, exact);
	for (int i = 0; car->woken && i <= car->modules; i++)
		exact[i] = i < car->modules ? woke(car, i) : line(car);
	for (int i = 0; i <= car->modules; i++)
		sum += exact[i];
	for (int i = 0; i <= car->modules; i++)
		exact[i] /= sum;
}

static struct nod_vehicle *map_of(const struct car *car)
{
	struct nod_error err = {""};
	char map[1000];
	int n = snprintf(map, sizeof(map),
			 "vehicle: small\nnetworks:\n  body:\n    interfaces: [vcan0]\n"
			 "    sleeps within: %.0f s\n    management: { scheme: none }\nmodules:\n",
			 DEADLINE_S);

	for (int i = 0; i < car->modules; i++)
		n += snprintf(map + n, sizeof(map) - (size_t)n,
			      "  module %d:\n    networks: [body]\n    ids: [%X]\n", i,
			      0x210U + 0x40U * (unsigned)i);
	return nod_vehicle_parse(map, (size_t)n, "map", &err);
}

static void ask(const struct car *car, double *said)
{
	struct nod_vehicle *vehicle = map_of(car);
	struct nod_interfaces names = {0};

	nod_interfaces_index(&names, "vcan0", 5);
	struct nod_engine *engine = vehicle ? nod_engine_new(vehicle, &names) : NULL;
	if (!engine)
		abort();
	nod_engine_set_lock(engine, (nod_time){BEGIN_NS + (int64_t)(LOCK_S * NOD_NS_PER_S)},
			    NOD_LOCK_FROM_OPTION);
	nod_engine_take_frames(engine, car->frames, car->count);
	nod_engine_advance(engine, (nod_time){BEGIN_NS + (int64_t)(car->end_s * NOD_NS_PER_S)});
	struct nod_findings *f = nod_engine_findings(engine);
	for (size_t i = 0; f && i < f->suspect_count; i++)
		if (f->suspects[i].kind == NOD_SUSPECT_SENDER)
			said[f->suspects[i].name[strlen("module ")] - '0'] =
				f->suspects[i].probability;
	nod_findings_free(f);
	nod_engine_free(engine);
	nod_vehicle_free(vehicle);
}

/* ---- the score ---- */

struct reader {
	double brier, bits;
	unsigned first, named, innocent; /* right at the top; at 0.5 and more */
};

struct score {
	unsigned cars, suspects, same_first;
	double apart, bias, variance;
	struct reader exact, engine;
};

static int top(const double *p, int count)
{
	int best = 0;

	for (int i = 1; i < count; i++)
		best = p[i] > p[best] ? i : best;
	return best;
}

static void take(struct reader *r, const struct car *car, const double *p)
{
	for (int i = 0; i < car->modules; i++) {
		bool is = i == car->cause;
		r->brier += (p[i] - is) * (p[i] - is);
		r->bits -= log2(fmax(is ? p[i] : 1 - p[i], 1e-3));
		r->named += is && p[i] >= 0.5;
		r->innocent += !is && p[i] >= 0.5;
	}
	r->first += top(p, car->modules) == car->cause;
}

static void play(struct score *s, uint64_t seed, bool woken)
{
	double exact[MODULES_MAX + 1] = {0}, said[10] = {0};
	struct car car;

	invent(&car, seed, woken);
	count_out(&car, exact);
	ask(&car, said);
	for (int i = 0; i < car.modules; i++) {
		s->apart += fabs(exact[i] - said[i]);
		double p = exact[i], miss = (i == car.cause) - p;
		s->bias += miss * miss - p * (1 - p);
		s->variance += p * (1 - p) * (1 - 2 * p) * (1 - 2 * p);
	}
	take(&s->exact, &car, exact);
	take(&s->engine, &car, said);
	s->same_first += fabs(exact[top(said, car.modules)] - exact[top(exact, car.modules)]) <
			 1e-9;
	s->suspects += (unsigned)car.modules;
	s->cars++;
	free(car.frames);
}

static void show(const char *name, const struct reader *r, const struct score *s)
{
	printf("%-7s first right in %u of %u, at 0.5 and more %u, innocents there %u; Brier %.4f, "
	       "%.3f bits a suspect\n",
	       name, r->first, s->cars, r->named, r->innocent, r->brier / s->suspects,
	       r->bits / s->suspects);
}

int main(int argc, char **argv)
{
	unsigned long long first = 0, cars = 200;
	bool woken = false;
	double at_most = INFINITY;
	const struct argument list[] = {{.name = "first", .whole = &first},
					{.name = "cars", .whole = &cars},
					{.name = "woken", .flag = &woken},
					{.name = "at-most", .real = &at_most},
					{0}};
	struct score s = {0};

	if (!arguments_take(list, argc, argv) || !cars)
		return 2;
	for (unsigned long long i = 0; i < cars; i++)
		play(&s, first + i, woken);
	show("counted", &s.exact, &s);
	show("engine", &s.engine, &s);
	double wrong = fabs(s.bias) / sqrt(s.variance > 0 ? s.variance : 1);
	double worse = 100 * (s.engine.brier - s.exact.brier) / s.suspects;
	printf("apart %.3f on average; the engine's first is the counted one in %u of %u; counted is "
	       "off by %.1f deviations\n",
	       s.apart / s.suspects, s.same_first, s.cars, wrong);
	return wrong > CALIBRATED || worse > at_most;
}
