/* SPDX-License-Identifier: MIT */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdbool.h>
#include <stdint.h>

#include <cmocka.h>

#include "chance.h"

static bool near(double a, double b)
{
	return fabs(a - b) < 1e-9;
}

/* Binomial tails known by hand: 5 of 5 in the first half is 1/32. */
static void the_chance_is_the_binomial_tail(void **state)
{
	(void)state;
	assert_true(fabs(nod_chance_fewer(5, 10, 0, 10) - 1.0 / 32) < 1e-9);
	assert_true(fabs(nod_chance_fewer(2, 10, 1, 10) - 0.5) < 1e-9);
	assert_true(fabs(nod_chance_fewer(1, 10, 1, 30) - 7.0 / 16) < 1e-9);
	assert_true(nod_chance_fewer(5, 0, 0, 10) >= 1);
}

/* One event in an hour: none in the next hour is as likely as not; three take 2^-3. */
static void none_in_a_time_is_the_lomax_tail(void **state)
{
	(void)state;
	assert_true(near(nod_chance_none(1, 60, 60), 0.5));
	assert_true(near(nod_chance_none(3, 60, 60), 0.125));
	assert_true(near(nod_chance_none(0, 60, 60), 1));
	assert_true(near(nod_chance_none(3, 0, 60), 1));
	assert_true(near(nod_chance_none(3, 60, 0), 1));
}

/* What lasted three seconds ends within the next 27 nine times in ten; what
 * lasted nine minutes and a half, one time in twenty within half a minute. */
static void what_has_lasted_goes_on(void **state)
{
	(void)state;
	assert_true(near(nod_chance_ends(3, 27), 0.9));
	assert_true(near(nod_chance_ends(570, 30), NOD_PROOF_CHANCE));
	assert_true(near(nod_chance_ends(0, 27), 1));
	assert_true(near(nod_chance_ends(10, 0), 0));
}

static void the_silence_that_proves_is_where_the_chance_is_the_standard(void **state)
{
	(void)state;
	for (unsigned n = 1; n < 6; n++)
		assert_true(near(nod_chance_none(n, 500, nod_chance_silence(n, 500)),
				 NOD_PROOF_CHANCE));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(the_chance_is_the_binomial_tail),
		cmocka_unit_test(none_in_a_time_is_the_lomax_tail),
		cmocka_unit_test(what_has_lasted_goes_on),
		cmocka_unit_test(the_silence_that_proves_is_where_the_chance_is_the_standard),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
