/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "changepoint.h"
#include "robust.h"

/* Data and result: example program for routine G13NAC of the NAG library,
 * files g13nace.d and g13nace.r (support.nag.com). */
static const double nag[100] = {
	0.00,  0.78,  -0.02, 0.17,  0.04,  -1.23, 0.24,  1.70,  0.77, 0.06,  0.67,  0.94,  1.99,
	2.64,  2.26,  3.72,  3.14,  2.28,  3.78,  0.83,  2.80,  1.66, 1.93,  2.71,  2.97,  3.04,
	2.29,  3.71,  1.69,  2.76,  1.96,  3.17,  1.04,  1.50,  1.12, 1.11,  1.00,  1.84,  1.78,
	2.39,  1.85,  0.62,  2.16,  0.78,  1.70,  0.63,  1.79,  1.21, 2.20,  -1.34, 0.04,  -0.14,
	2.78,  1.83,  0.98,  0.19,  0.57,  -1.41, 2.05,  1.17,  0.44, 2.32,  0.67,  0.73,  1.17,
	-0.34, 2.95,  1.08,  2.16,  2.27,  -0.14, -0.24, 0.27,  1.71, -0.04, -1.03, -0.12, -0.67,
	1.15,  -1.10, -1.37, 0.59,  0.44,  0.63,  -0.06, -0.62, 0.39, -2.63, -1.63, -0.42, -0.73,
	0.85,  0.26,  0.48,  -0.26, -1.77, -1.53, -1.39, 1.68,  0.43,
};

/* Annual flow of the Nile at Aswan 1871-1970, 10^8 m^3: R datasets, "Nile"
 * (from memory; the sums of squares below confirm every digit). */
static const double nile[100] = {
	1120, 1160, 963, 1210, 1160, 1160, 813,  1230, 1370, 1140, 995,  935,  1110, 994,  1020,
	960,  1180, 799, 958,  1140, 1100, 1210, 1150, 1250, 1260, 1220, 1030, 1100, 774,  840,
	874,  694,  940, 833,  701,  916,  692,  1020, 1050, 969,  831,  726,  456,  824,  702,
	1120, 1100, 832, 764,  821,  768,  845,  864,  862,  698,  845,  744,  796,  1040, 759,
	781,  865,  845, 944,  984,  897,  822,  1010, 771,  676,  649,  846,  812,  742,  801,
	1040, 860,  874, 848,  890,  744,  749,  838,  1050, 918,  986,  797,  923,  975,  815,
	1020, 906,  901, 1170, 912,  746,  919,  718,  714,  740,
};

static void assert_ends(const struct nod_partition *p, const size_t *ends, size_t count)
{
	assert_int_equal(p->count, count);
	for (size_t i = 0; i < count; i++)
		assert_int_equal(p->ends[i], ends[i]);
}

static double mean_of(const double *y, size_t from, size_t to)
{
	double sum = 0;
	for (size_t i = from; i < to; i++)
		sum += y[i];
	return sum / (double)(to - from);
}

static void test_published_nag_example(void **state)
{
	(void)state;
	static const size_t ends[] = {12, 32, 49, 52, 70, 100}, coarse[] = {12, 32, 70, 100};
	static const double means[] = {0.34, 2.57, 1.45, -0.48, 1.20, -0.23};
	struct nod_partition p;
	size_t from = 0;

	assert_int_equal(nod_partition_find(&p, nag, NULL, 100, 4.6, 2), 0);
	assert_ends(&p, ends, 6);
	for (size_t i = 0; i < 6; from = p.ends[i++])
		assert_true(fabs(mean_of(nag, from, p.ends[i]) - means[i]) <= 0.00501);
	/* Computed with an independent exact solver. */
	assert_true(fabs(p.cost - 98.469) < 0.0005);
	nod_partition_free(&p);
	assert_int_equal(nod_partition_find(&p, nag, NULL, 100, 9.2, 2), 0);
	assert_ends(&p, coarse, 4);
	nod_partition_free(&p);
}

static void test_nile(void **state)
{
	(void)state;
	static const size_t ends[] = {28, 100}; /* 1898 is the last year of the first level */
	double room[99], sigma[100];
	struct nod_partition p;

	/* Computed with an independent exact solver: residual sums of squares
	 * without and with the change, noise from first differences. */
	assert_int_equal(nod_partition_find(&p, nile, NULL, 100, 1e9, 1), 0);
	assert_true(p.count == 1 && fabs(p.cost - 2835156.75) < 0.005);
	nod_partition_free(&p);
	assert_true(fabs(nod_noise_sigma(nile, 100, room) - 115.319) < 0.002);
	for (int i = 0; i < 100; i++)
		sigma[i] = 115.319;
	for (int factor = 2; factor <= 3; factor++) {
		double penalty = factor * log(100);
		assert_int_equal(nod_partition_find(&p, nile, sigma, 100, penalty, 1), 0);
		assert_ends(&p, ends, 2);
		assert_true(fabs((p.cost - penalty) * 115.319 * 115.319 - 1597457.194) < 0.01);
		nod_partition_free(&p);
	}
	assert_true(fabs(mean_of(nile, 0, 28) - 1097.75) < 0.0005);
	assert_true(fabs(mean_of(nile, 28, 100) - 849.972) < 0.0005);
}

static uint32_t lcg(uint32_t *seed)
{
	*seed = *seed * 1664525u + 1013904223u;
	return *seed >> 8;
}

/* Optimal partition without pruning: tries every start for every end. */
static double exhaustive(const double *y, size_t n, double penalty, size_t minimum)
{
	double best[65];

	best[0] = -penalty;
	for (size_t end = 1; end <= n; end++) {
		best[end] = INFINITY;
		for (size_t from = 0; from + minimum <= end; from++) {
			double mean = mean_of(y, from, end), cost = best[from] + penalty;
			for (size_t i = from; i < end; i++)
				cost += (y[i] - mean) * (y[i] - mean);
			best[end] = fmin(best[end], cost);
		}
	}
	return best[n];
}

static void test_pruning_never_changes_the_optimum(void **state)
{
	(void)state;
	uint32_t seed = 1;

	for (int round = 0; round < 300; round++) {
		double y[64], penalty = 0.1 + lcg(&seed) % 100 / 10.0;
		size_t n = 1 + lcg(&seed) % 64, minimum = 1 + lcg(&seed) % 7, from = 0;
		struct nod_partition p;

		for (size_t i = 0; i < n; i++)
			y[i] = (lcg(&seed) % 1000) / 500.0 + (double)(i / 9 * 7 % 5);
		assert_int_equal(nod_partition_find(&p, y, NULL, n, penalty, minimum), 0);
		for (size_t i = 0; n >= minimum && i < p.count; from = p.ends[i++])
			assert_true(p.ends[i] - from >= minimum);
		assert_int_equal(p.ends[p.count - 1], n);
		if (n >= minimum)
			assert_true(fabs(p.cost - exhaustive(y, n, penalty, minimum)) < 1e-9);
		nod_partition_free(&p);
	}
}

static void test_a_series_without_a_change_has_none(void **state)
{
	(void)state;
	enum { N = 4000 };
	double *y = calloc(N, sizeof(*y));
	uint32_t seed = 7;
	struct nod_partition p;

	assert_non_null(y);
	for (int i = 0; i < N; i++) /* sum of 12 uniforms: sigma 1 */
		for (int k = 0; k < 12; k++)
			y[i] += (lcg(&seed) % 65536) / 65536.0 - 0.5;
	assert_int_equal(nod_partition_find(&p, y, NULL, N, 3 * log(N), 2), 0);
	assert_int_equal(p.count, 1);
	nod_partition_free(&p);
	free(y);
}

static void test_edges(void **state)
{
	(void)state;
	double y[3] = {1, 1, 1};
	struct nod_partition p;

	assert_int_equal(nod_partition_find(&p, y, NULL, 0, 1, 1), 0);
	assert_int_equal(p.count, 0);
	assert_int_equal(nod_partition_find(&p, y, NULL, 3, 1, 5), 0);
	assert_true(p.count == 1 && p.ends[0] == 3 && p.cost == 0);
	nod_partition_free(&p);
	assert_int_equal(nod_partition_find(&p, y, NULL, 3, 1, 0), -EINVAL);
	assert_int_equal(nod_partition_find(&p, y, NULL, 3, -1, 1), -EINVAL);
	assert_int_equal(nod_partition_find(&p, y, NULL, NOD_CHANGEPOINT_MAX + 1, 1, 1), -ERANGE);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_published_nag_example),
		cmocka_unit_test(test_nile),
		cmocka_unit_test(test_pruning_never_changes_the_optimum),
		cmocka_unit_test(test_a_series_without_a_change_has_none),
		cmocka_unit_test(test_edges),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
