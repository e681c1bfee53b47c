/* SPDX-License-Identifier: MIT */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "least-squares.h"

static void assert_near(double value, double expected, double tolerance)
{
	if (!(fabs(value - expected) <= tolerance))
		fail_msg("%g is not %g +- %g", value, expected, tolerance);
}

static void test_a_line_through_points(void **state)
{
	(void)state;
	/* y = 2 + 3 x without noise; the errors follow from the weights alone:
	 * (A'A)^-1 for x = 0..3 is {0.7, -0.3, -0.3, 0.2}. */
	double a[] = {1, 0, 1, 1, 1, 2, 1, 3}, y[] = {2, 5, 8, 11}, error[] = {1, 1, 1, 1};
	struct nod_linear fit;

	assert_int_equal(nod_linear_fit(&fit, a, y, error, 4, 2, 2, 10), 0);
	assert_true(fit.known[0] && fit.known[1]);
	assert_near(fit.value[0], 2, 1e-9);
	assert_near(fit.value[1], 3, 1e-9);
	assert_near(fit.error[0], sqrt(0.7), 1e-9);
	assert_near(fit.error[1], sqrt(0.2), 1e-9);
	nod_linear_free(&fit);
}

static void test_a_wild_row_does_not_spoil_it(void **state)
{
	(void)state;
	double a[] = {1, 1, 1, 1, 1, 1, 1}, error[] = {1, 1, 1, 1, 1, 1, 1};
	double y[] = {10.1, 9.9, 10.2, 9.8, 10, 10.1, 900};
	struct nod_linear fit;

	assert_int_equal(nod_linear_fit(&fit, a, y, error, 7, 1, 2, 20), 0);
	assert_near(fit.value[0], 10, 0.6);
	assert_true(fit.error[0] < 1);
	nod_linear_free(&fit);
}

static void test_what_is_not_determined_is_said(void **state)
{
	(void)state;
	/* a + b is measured, never a or b alone; c is; d is in no row */
	double a[] = {1, 1, 0, 0, 1, 1, 0, 0, 0, 0, 1, 0}, y[] = {5, 5.2, 7}, error[] = {1, 1, 1};
	struct nod_linear fit;

	assert_int_equal(nod_linear_fit(&fit, a, y, error, 3, 4, 2, 10), 0);
	assert_false(fit.known[0]);
	assert_false(fit.known[1]);
	assert_true(fit.known[2]);
	assert_false(fit.known[3]);
	assert_near(fit.value[2], 7, 1e-9);
	nod_linear_free(&fit);
	assert_int_equal(nod_linear_fit(&fit, a, y, error, 0, 0, 2, 10), 0);
	nod_linear_free(&fit);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_a_line_through_points),
		cmocka_unit_test(test_a_wild_row_does_not_spoil_it),
		cmocka_unit_test(test_what_is_not_determined_is_said),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
