/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "hypergeometric.h"

static double tail(unsigned population, unsigned marked, unsigned drawn, unsigned hits)
{
	double p = -1;
	assert_int_equal(nod_hypergeometric_tail(&p, population, marked, drawn, hits), 0);
	return p;
}

static void assert_ratio(double p, double numerator, double denominator)
{
	assert_true(fabs(p * denominator / numerator - 1) < 1e-15);
}

static void test_published_examples(void **state)
{
	(void)state;
	/* Fisher, "The Design of Experiments", chapter 2: eight cups, four with
	 * milk first; all four right by chance 1 in 70, three or more 17 in 70. */
	assert_ratio(tail(8, 4, 4, 4), 1, 70);
	assert_ratio(tail(8, 4, 4, 3), 17, 70);
	/* Five cards of 52: four aces in 48 of 2598960 hands. */
	assert_ratio(tail(52, 4, 5, 4), 48, 2598960);
	/* Six of 49: all six 1 in 13983816. */
	assert_ratio(tail(49, 6, 6, 6), 1, 13983816);
}

static void test_edges(void **state)
{
	(void)state;
	double p;

	assert_ratio(tail(10, 5, 3, 0), 1, 1);
	assert_true(tail(10, 2, 5, 3) == 0);
	assert_ratio(tail(10, 8, 5, 3), 1, 1); /* at least three must be marked */
	assert_ratio(tail(10, 10, 4, 4), 1, 1);
	assert_ratio(tail(0, 0, 0, 0), 1, 1);
	assert_int_equal(nod_hypergeometric_tail(&p, 5, 6, 1, 1), -EINVAL);
	assert_int_equal(nod_hypergeometric_tail(&p, 5, 1, 6, 1), -EINVAL);
	assert_int_equal(nod_hypergeometric_tail(&p, 1001, 1, 1, 1), -ERANGE);
}

static void test_complement_and_symmetry_at_full_size(void **state)
{
	(void)state;
	/* Drawing 500 of 1000 with 500 marked is symmetric: P(>= 250) = 1/2 + P(= 250)/2. */
	double upper = tail(1000, 500, 500, 250), above = tail(1000, 500, 500, 251);

	assert_true(fabs(upper + above - 1) < 1e-14);
	assert_true(tail(1000, 500, 500, 500) > 0); /* about 1e-300: still a number */
	/* Marked and drawn may be exchanged. */
	assert_ratio(tail(90, 17, 8, 5), tail(90, 8, 17, 5), 1);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_published_examples),
		cmocka_unit_test(test_edges),
		cmocka_unit_test(test_complement_and_symmetry_at_full_size),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
