/* SPDX-License-Identifier: MIT */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include "clock-watch.h"

static int64_t check_within(struct nod_clock_watch *watch, int64_t real, int64_t monotonic,
			    int64_t apart)
{
	return nod_clock_watch_check(watch, (nod_time){real}, (nod_time){monotonic},
				     (nod_duration){apart})
		.ns;
}

static int64_t check(struct nod_clock_watch *watch, int64_t real, int64_t monotonic)
{
	return check_within(watch, real, monotonic, 0);
}

static void tells_a_set_clock_from_steering(void **state)
{
	struct nod_clock_watch watch = NOD_CLOCK_WATCH_INIT;

	(void)state;
	assert_int_equal(check(&watch, 1000 * NOD_NS_PER_S, 50), 0);
	assert_int_equal(check(&watch, 1001 * NOD_NS_PER_S, NOD_NS_PER_S + 50), 0);
	/* 40 ms is jitter, 3600 s is a step, and it is told once */
	assert_int_equal(check(&watch, 1001 * NOD_NS_PER_S + 40 * NOD_NS_PER_MS, NOD_NS_PER_S + 50),
			 0);
	assert_int_equal(check(&watch, 4602 * NOD_NS_PER_S, 2 * NOD_NS_PER_S + 50),
			 3600 * NOD_NS_PER_S);
	assert_int_equal(check(&watch, 4602 * NOD_NS_PER_S, 2 * NOD_NS_PER_S + 50), 0);
	assert_int_equal(check(&watch, 4600 * NOD_NS_PER_S, 2 * NOD_NS_PER_S + 50),
			 -2 * NOD_NS_PER_S);
}

/* Suspended: boottime goes on, monotonic does not, the clock is right afterwards. */
static void tells_a_suspension_from_a_set_clock(void **state)
{
	struct nod_clock_watch clock = NOD_CLOCK_WATCH_INIT, suspension = NOD_CLOCK_WATCH_INIT;
	int64_t s = NOD_NS_PER_S;

	(void)state;
	assert_int_equal(check(&clock, 1000 * s, 50 * s), 0);
	assert_int_equal(check(&suspension, 50 * s, 40 * s), 0);
	assert_int_equal(check(&clock, 4601 * s, 3651 * s), 0);
	assert_int_equal(check(&suspension, 3651 * s, 41 * s), 3600 * s);
	assert_int_equal(check(&suspension, 3652 * s, 42 * s), 0);
	/* set: not suspended */
	assert_int_equal(check(&clock, 4542 * s, 3652 * s), -60 * s);
	assert_int_equal(check(&suspension, 3653 * s, 43 * s), 0);
}

/* The process had to wait between its two readings. */
static void a_busy_machine_is_no_step(void **state)
{
	struct nod_clock_watch watch = NOD_CLOCK_WATCH_INIT;
	int64_t s = NOD_NS_PER_S, wait = 300 * NOD_NS_PER_MS;

	(void)state;
	assert_int_equal(check_within(&watch, 1000 * s, 0, wait), 0);
	assert_int_equal(check_within(&watch, 1001 * s - wait, s, 0), 0);
	assert_int_equal(check_within(&watch, 1002 * s, 2 * s, wait), 0);
	assert_int_equal(check_within(&watch, 1003 * s, 3 * s, wait), 0);
	/* larger than what the wait explains */
	assert_int_equal(check_within(&watch, 1064 * s - wait, 4 * s, wait), 60 * s);
}

static void cuts_toward_the_past(void **state)
{
	(void)state;
	assert_int_equal(nod_clock_to_microseconds((nod_time){1999}).ns, 1000);
	assert_int_equal(nod_clock_to_microseconds((nod_time){2000}).ns, 2000);
	assert_int_equal(nod_clock_to_microseconds((nod_time){-1}).ns, -1000);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(tells_a_set_clock_from_steering),
		cmocka_unit_test(tells_a_suspension_from_a_set_clock),
		cmocka_unit_test(a_busy_machine_is_no_step),
		cmocka_unit_test(cuts_toward_the_past),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
