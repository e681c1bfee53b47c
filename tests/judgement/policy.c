/* SPDX-License-Identifier: MIT */
/* The order in which isolations are proposed, against the best order there is: small cars
 * in which one of some modules is the cause, searched through by dynamic programming over what is
 * still possible.
 *
 *     policy [--first SEED] [--cars N] [--wide] [--at-most PERCENT]
 *
 * A car: 2 to 8 suspects with random suspicion, on fuses of 1 to 3; a fuse takes 2 minutes
 * and the wait, a plug 10, some 5 more for what has to be set up again; the wait is the same
 * for all, 1 to 15 minutes. The cause is found when it alone was isolated and the network
 * slept. Expected minutes until then; with --at-most, fails when the proposals take more
 * than so many percent longer than the best, on average.
 *
 * With --wide it may also be that the car sleeps by itself after all, which waiting tells (and
 * which every isolation may be mistaken for), or that the cause is on a network that was not
 * listened to, which another tap tells in 8 minutes; and once the millivolts across all
 * fuses may be read, a minute each: an innocent is asleep, and so excluded, in 3 of 10 cases.
 * These costs and shares are chosen: common practice, no source. */
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>

#include "arguments.h"
#include "next-test.h"
#include "uniform.h"

#define MODULES_MAX 8
#define CAUSES_MAX (MODULES_MAX + 2)
#define TESTS_MAX (2 * MODULES_MAX + 2)
#define SETS (1 << CAUSES_MAX)

#define TAP_MINUTES 8.0
#define READING_MINUTES 1.0 /* a fuse */
#define INNOCENT_ASLEEP 0.3

struct test {
	unsigned takes_off; /* bit set of modules */
	double minutes;
};

struct car {
	int modules, causes, tests;
	bool meter; /* the millivolts can be read */
	double suspicion[CAUSES_MAX];
	struct test test[TESTS_MAX];
	/* minutes, by what is possible and whether the millivolts were read; < 0: not known */
	double best[2][SETS], proposed[2][SETS];
};

/* That it sleeps by itself, and that it is behind another tap. */
static void widen(struct car *car, uint64_t *s, double wait)
{
	unsigned alone = 1u << car->causes;

	for (int i = 0; i < car->tests; i++)
		car->test[i].takes_off |= alone;
	for (int i = 0; i < 2; i++) {
		car->suspicion[car->causes] = exp(4 * uniform(s));
		car->test[car->tests++] = (struct test){1u << car->causes++,
							i ? TAP_MINUTES : wait};
	}
	car->meter = true;
}

static void invent(struct car *car, unsigned long long seed, bool wide)
{
	uint64_t s = seed;
	double wait = 1 + 14 * uniform(&s);

	car->modules = 2 + (int)(uniform(&s) * (MODULES_MAX - 1));
	car->tests = 0;
	for (int i = 0; i < car->modules; i++) {
		car->suspicion[i] = exp(4 * uniform(&s));
		car->test[car->tests++] = (struct test){1u << i,
							10 + wait + (uniform(&s) < 0.2 ? 5 : 0)};
	}
	for (int i = 0; i < car->modules;) {
		int on_it = 1 + (int)(3 * uniform(&s) * uniform(&s) * 1.5);
		struct test *fuse = &car->test[car->tests++];
		*fuse = (struct test){0, 2 + wait + (uniform(&s) < 0.2 ? 5 : 0)};
		for (int k = 0; k < on_it && i < car->modules; k++)
			fuse->takes_off |= 1u << i++;
	}
	car->causes = car->modules;
	car->meter = false;
	if (wide)
		widen(car, &s, wait);
	for (int read = 0; read < 2; read++)
		for (int i = 0; i < SETS; i++)
			car->best[read][i] = car->proposed[read][i] = -1;
}

static double mass(const struct car *car, unsigned set)
{
	double sum = 0;

	for (int i = 0; i < car->causes; i++)
		sum += set >> i & 1 ? car->suspicion[i] : 0;
	return sum;
}

static bool tells(const struct test *t, unsigned possible)
{
	unsigned off = t->takes_off & possible;

	return off && (off != possible || !(off & (off - 1)));
}

typedef double policy(struct car *car, unsigned possible, bool read);

/* Expected minutes with this test first, and so on by `then`. */
static double minutes(struct car *car, const struct test *t, unsigned possible, bool read,
		      policy *then)
{
	unsigned off = t->takes_off & possible, rest = possible & ~off;
	double hit = mass(car, off) / mass(car, possible), sum = t->minutes;

	if (off & (off - 1))
		sum += hit * then(car, off, read);
	return rest && rest != possible ? sum + (1 - hit) * then(car, rest, read) : sum;
}

static unsigned fuses_of(const struct car *car, unsigned possible)
{
	return possible & ((1u << car->modules) - 1);
}

/* How likely the reading leaves just these of what is possible: the cause is awake. */
static double leaves(const struct car *car, unsigned possible, unsigned awake)
{
	int all = __builtin_popcount(fuses_of(car, possible));
	int on = __builtin_popcount(fuses_of(car, awake));
	double share = pow(INNOCENT_ASLEEP, all - on), sum = 0;

	for (int i = 0; i < car->causes; i++) {
		bool module = i < car->modules;
		if (awake >> i & 1)
			sum += car->suspicion[i] * pow(1 - INNOCENT_ASLEEP, on - module);
	}
	return share * sum / mass(car, possible);
}

static double reading_minutes(const struct car *car, unsigned possible)
{
	return READING_MINUTES * __builtin_popcount(fuses_of(car, possible));
}

/* Calls for each outcome of the reading: what no fuse feeds stays possible. */
static double over_outcomes(struct car *car, unsigned possible,
			    double (*of)(struct car *car, unsigned left, policy *then),
			    policy *then)
{
	unsigned fuses = fuses_of(car, possible), others = possible & ~fuses;
	double sum = 0;

	for (unsigned awake = fuses;; awake = (awake - 1) & fuses) {
		if (awake | others)
			sum += leaves(car, possible, awake | others) *
			       of(car, awake | others, then);
		if (!awake)
			return sum;
	}
}

static double minutes_left(struct car *car, unsigned left, policy *then)
{
	return left & (left - 1) ? then(car, left, true) : 0;
}

static double bits_left(struct car *car, unsigned left, policy *then)
{
	double all = mass(car, left), sum = 0;

	(void)then;
	for (int i = 0; i < car->causes; i++)
		if (left >> i & 1)
			sum -= car->suspicion[i] / all * log2(car->suspicion[i] / all);
	return sum;
}

static double minutes_reading(struct car *car, unsigned possible, policy *then)
{
	return reading_minutes(car, possible) + over_outcomes(car, possible, minutes_left, then);
}

static bool can_read(const struct car *car, unsigned possible, bool read)
{
	return car->meter && !read && fuses_of(car, possible);
}

static double best(struct car *car, unsigned possible, bool read)
{
	double least = INFINITY;

	if (car->best[read][possible] >= 0)
		return car->best[read][possible];
	for (int i = 0; i < car->tests; i++)
		if (tells(&car->test[i], possible))
			least = fmin(least, minutes(car, &car->test[i], possible, read, best));
	if (can_read(car, possible, read))
		least = fmin(least, minutes_reading(car, possible, best));
	return car->best[read][possible] = least;
}

static double proposed(struct car *car, unsigned possible, bool read)
{
	const struct test *first = NULL;
	double most = -1;

	if (car->proposed[read][possible] >= 0)
		return car->proposed[read][possible];
	for (int i = 0; i < car->tests; i++) {
		const struct test *t = &car->test[i];
		double hit = mass(car, t->takes_off & possible) / mass(car, possible);
		double value = nod_test_value(nod_test_information(hit), hit, t->minutes);
		if (tells(t, possible) && value > most) {
			most = value;
			first = t;
		}
	}
	if (can_read(car, possible, read)) {
		double bits = bits_left(car, possible, NULL) -
			      over_outcomes(car, possible, bits_left, NULL);
		if (nod_test_value(bits, 0, reading_minutes(car, possible)) > most)
			return car->proposed[read][possible] = minutes_reading(car, possible,
									       proposed);
	}
	return car->proposed[read][possible] = minutes(car, first, possible, read, proposed);
}

struct request {
	unsigned long long first, cars;
	double at_most;
	bool wide;
};

static bool parse_options(int argc, char **argv, struct request *r)
{
	const struct argument list[] = {{.name = "first", .whole = &r->first},
					{.name = "cars", .whole = &r->cars},
					{.name = "at-most", .real = &r->at_most},
					{.name = "wide", .flag = &r->wide},
					{0}};

	if (!arguments_take(list, argc, argv))
		return false;
	return true;
}

int main(int argc, char **argv)
{
	static struct car car;
	struct request r = {.first = 1000, .cars = 1000, .at_most = INFINITY};
	double sum_best = 0, sum = 0, worst = 1;

	if (!parse_options(argc, argv, &r))
		return 2;
	for (unsigned long long k = 0; k < r.cars; k++) {
		invent(&car, r.first + k, r.wide);
		unsigned all = (1u << car.causes) - 1;
		double b = best(&car, all, false), p = proposed(&car, all, false);
		sum_best += b;
		sum += p;
		worst = fmax(worst, p / b);
	}
	double over = 100 * (sum / sum_best - 1);
	printf("%llu cars: best %.1f min, proposed %.1f min, %.1f %% more; at worst %.0f %% more\n",
	       r.cars, sum_best / (double)r.cars, sum / (double)r.cars, over, 100 * (worst - 1));
	return over > r.at_most;
}
