/* SPDX-License-Identifier: MIT */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "robust.h"

static void test_published_mad(void **state)
{
	(void)state;
	/* R help page of stats::mad: mad(c(1:9), constant = 1) == 2 and
	 * mad(c(1:8, 100), constant = 1) == 2. */
	double plain[] = {1, 2, 3, 4, 5, 6, 7, 8, 9}, wild[] = {1, 2, 3, 4, 5, 6, 7, 8, 100};

	assert_true(nod_median_deviation(plain, 9) == 2);
	assert_true(nod_median_deviation(wild, 9) == 2);
	/* Its default constant 1.4826 is this factor to four digits. */
	assert_true(fabs(NOD_MAD_FACTOR - 1.4826) < 5e-6);
	/* statsmodels: the factor is 1 / qnorm(3/4) = 1 / 0.6744897501960817. */
	assert_true(fabs(NOD_MAD_FACTOR * 0.6744897501960817 - 1) < 1e-15);
	double again[] = {9, 8, 7, 6, 5, 4, 3, 2, 1};
	assert_true(fabs(nod_robust_sigma(again, 9) - 2 * NOD_MAD_FACTOR) < 1e-15);
}

static void test_median(void **state)
{
	(void)state;
	double even[] = {4, 1, 3, 2};

	assert_true(nod_median(even, 4) == 2.5); /* R: the two middle ones are averaged */
	assert_true(isnan(nod_median(even, 0)));
}

static void test_noise_of_a_series_with_steps(void **state)
{
	(void)state;
	double y[400] = {0}, room[399];
	uint32_t seed = 3;

	/* Sums of 12 uniforms: sigma 1. Three steps of 50 hardly move the estimate. */
	for (int i = 0; i < 400; i++)
		for (int k = 0; k < 12; k++) {
			seed = seed * 1664525u + 1013904223u;
			y[i] += (seed >> 16) / 65536.0 - 0.5;
		}
	double calm = nod_noise_sigma(y, 400, room);
	for (int i = 0; i < 400; i++)
		y[i] += i > 300 ? 150 : i > 200 ? 50 : i > 100 ? 100 : 0;
	assert_true(calm > 0.85 && calm < 1.15);
	assert_true(fabs(nod_noise_sigma(y, 400, room) - calm) < 0.05 * calm);
	assert_true(nod_noise_sigma(y, 1, room) == 0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_published_mad),
		cmocka_unit_test(test_median),
		cmocka_unit_test(test_noise_of_a_series_with_steps),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
