/* SPDX-License-Identifier: MIT */
/* How long a car must be watched until its wake-ups count as gone. */
#include <math.h>

#include "pair.h"

/* A clock of 3 minutes: twice that without a wake-up. */
static void a_regular_waker_needs_two_of_its_periods(void **state)
{
	struct pair p;

	(void)state;
	begin(&p);
	wakes_every(&p.before, 2 * MINUTE, 3 * MINUTE, 6);
	sleeps_at_20_s(&p.after);
	compare(&p, 20 * MINUTE, 5 * MINUTE);
	assert_int_equal(p.before.found->verdict, NOD_VERDICT_WOKEN);
	assert_int_equal(p.c->networks[0].needed.ns, 6 * 60 * NOD_NS_PER_S);
	change_is(&p, NOD_CHANGE_CANNOT_TELL);
	assert_non_null(strstr(p.c->sentence, "more until that is proof"));
	end(&p);

	begin(&p);
	wakes_every(&p.before, 2 * MINUTE, 3 * MINUTE, 6);
	sleeps_at_20_s(&p.after);
	compare(&p, 20 * MINUTE, 8 * MINUTE);
	change_is(&p, NOD_CHANGE_FIXED);
	end(&p);
}

/* One wake-up in 20 minutes: (T/(T+t))^1 < 5 % takes 19 T. */
static void a_rare_waker_needs_long(void **state)
{
	struct pair p;

	(void)state;
	begin(&p);
	wakes_every(&p.before, 10 * MINUTE, 9 * MINUTE, 1);
	sleeps_at_20_s(&p.after);
	compare(&p, 20 * MINUTE, 60 * MINUTE);
	double watched = 20 * 60 - 19.95;
	assert_int_equal(p.c->networks[0].needed.ns / NOD_NS_PER_S, ceil(19 * watched));
	change_is(&p, NOD_CHANGE_CANNOT_TELL);
	end(&p);
}

/* Still woken, but too briefly for the verdict: the waker is still there. */
static void brief_wakes_afterwards_are_no_fix(void **state)
{
	struct pair p;

	(void)state;
	begin(&p);
	wakes_every(&p.before, 2 * MINUTE, 3 * MINUTE, 6);
	sleeps_at_20_s(&p.after);
	PLAY(&p.after, {0, "100#11", 10 * MINUTE, 10 * MINUTE + 300, 100});
	compare(&p, 20 * MINUTE, 40 * MINUTE);
	assert_int_equal(p.after.found->verdict, NOD_VERDICT_SLEEPS);
	change_is(&p, NOD_CHANGE_BETTER);
	end(&p);
}

static void fewer_wakes_beyond_chance_are_better(void **state)
{
	struct pair p;

	(void)state;
	begin(&p);
	wakes_every(&p.before, 2 * MINUTE, MINUTE, 17);
	wakes_every(&p.after, 2 * MINUTE, 8 * MINUTE, 2);
	compare(&p, 20 * MINUTE, 20 * MINUTE);
	change_is(&p, NOD_CHANGE_BETTER);
	end(&p);

	begin(&p);
	wakes_every(&p.before, 2 * MINUTE, 5 * MINUTE, 3);
	wakes_every(&p.after, 2 * MINUTE, 8 * MINUTE, 2);
	compare(&p, 20 * MINUTE, 20 * MINUTE);
	change_is(&p, NOD_CHANGE_NONE);
	end(&p);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(a_regular_waker_needs_two_of_its_periods),
		cmocka_unit_test(a_rare_waker_needs_long),
		cmocka_unit_test(brief_wakes_afterwards_are_no_fix),
		cmocka_unit_test(fewer_wakes_beyond_chance_are_better),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
