/* SPDX-License-Identifier: MIT */
/* The order in which isolations are proposed, against the best order there is: small cars
 * in which one of some modules is the cause, searched through by dynamic programming over what is
 * still possible.
 *
 *     policy [--first SEED] [--cars N] [--at-most PERCENT]
 *
 * A car: 2 to 8 suspects with random suspicion, on fuses of 1 to 3; a fuse takes 2 minutes
 * and the wait, a plug 10, some 5 more for what has to be set up again; the wait is the same
 * for all, 1 to 15 minutes. The cause is found when it alone was isolated and the network
 * slept. Expected minutes until then; with --at-most, fails when the proposals take more
 * than so many percent longer than the best, on average. */
#include <getopt.h>
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>

#include "next-test.h"

#define MODULES_MAX 8
#define TESTS_MAX (2 * MODULES_MAX)

struct test {
	unsigned takes_off; /* bit set of modules */
	double minutes;
};

struct car {
	int modules, tests;
	double suspicion[MODULES_MAX];
	struct test test[TESTS_MAX];
	double best[1 << MODULES_MAX], proposed[1 << MODULES_MAX]; /* minutes; < 0: not known */
};

static double uniform(unsigned long long *state)
{
	*state += 0x9E3779B97F4A7C15ULL; /* splitmix64, public domain */
	unsigned long long z = *state;
	z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9ULL;
	z = (z ^ (z >> 27)) * 0x94D049BB133111EBULL;
	return (double)((z ^ (z >> 31)) >> 11) / 9007199254740992.0;
}

static void invent(struct car *car, unsigned long long seed)
{
	unsigned long long s = seed;
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
	for (int i = 0; i < 1 << MODULES_MAX; i++)
		car->best[i] = car->proposed[i] = -1;
}

static double mass(const struct car *car, unsigned set)
{
	double sum = 0;

	for (int i = 0; i < car->modules; i++)
		sum += set >> i & 1 ? car->suspicion[i] : 0;
	return sum;
}

static bool tells(const struct test *t, unsigned possible)
{
	unsigned off = t->takes_off & possible;

	return off && (off != possible || !(off & (off - 1)));
}

/* Expected minutes with this test first, and so on by `then`. */
static double minutes(struct car *car, const struct test *t, unsigned possible,
		      double (*then)(struct car *car, unsigned possible))
{
	unsigned off = t->takes_off & possible, rest = possible & ~off;
	double hit = mass(car, off) / mass(car, possible), sum = t->minutes;

	if (off & (off - 1))
		sum += hit * then(car, off);
	return rest ? sum + (1 - hit) * then(car, rest) : sum;
}

static double best(struct car *car, unsigned possible)
{
	double least = INFINITY;

	if (car->best[possible] >= 0)
		return car->best[possible];
	for (int i = 0; i < car->tests; i++)
		if (tells(&car->test[i], possible))
			least = fmin(least, minutes(car, &car->test[i], possible, best));
	return car->best[possible] = least;
}

static double proposed(struct car *car, unsigned possible)
{
	const struct test *first = NULL;
	double most = -1;

	if (car->proposed[possible] >= 0)
		return car->proposed[possible];
	for (int i = 0; i < car->tests; i++) {
		const struct test *t = &car->test[i];
		double hit = mass(car, t->takes_off & possible) / mass(car, possible);
		double value = nod_test_value(nod_test_information(hit), hit, t->minutes);
		if (tells(t, possible) && value > most) {
			most = value;
			first = t;
		}
	}
	return car->proposed[possible] = minutes(car, first, possible, proposed);
}

int main(int argc, char **argv)
{
	static const struct option options[] = {{"first", 1, NULL, 'f'},
						{"cars", 1, NULL, 'n'},
						{"at-most", 1, NULL, 'a'},
						{NULL, 0, NULL, 0}};
	static struct car car;
	unsigned long long first = 1000, cars = 1000;
	double sum_best = 0, sum = 0, worst = 1, at_most = INFINITY;
	int option;

	while ((option = getopt_long(argc, argv, "", options, NULL)) != -1)
		switch (option) {
		case 'f':
			first = strtoull(optarg, NULL, 10);
			break;
		case 'n':
			cars = strtoull(optarg, NULL, 10);
			break;
		case 'a':
			at_most = strtod(optarg, NULL);
			break;
		default:
			return 2;
		}
	for (unsigned long long k = 0; k < cars; k++) {
		invent(&car, first + k);
		unsigned all = (1u << car.modules) - 1;
		double b = best(&car, all), p = proposed(&car, all);
		sum_best += b;
		sum += p;
		worst = fmax(worst, p / b);
	}
	double over = 100 * (sum / sum_best - 1);
	printf("%llu cars: best %.1f min, proposed %.1f min, %.1f %% more; at worst %.0f %% more\n",
	       cars, sum_best / (double)cars, sum / (double)cars, over, 100 * (worst - 1));
	return over > at_most;
}
