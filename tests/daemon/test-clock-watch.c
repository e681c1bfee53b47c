/* SPDX-License-Identifier: MIT */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include <string.h>
#include <time.h>

#include "clock-watch.h"

int __real_clock_gettime(clockid_t id, struct timespec *ts);
int __wrap_clock_gettime(clockid_t id, struct timespec *ts);

/* How long the process has to wait after each call, ns; negative: the machine's own clocks. */
static int64_t waits[64] = {-1}, passed;
static size_t calls;

int __wrap_clock_gettime(clockid_t id, struct timespec *ts)
{
	if (*waits < 0)
		return __real_clock_gettime(id, ts);
	int64_t ns = passed + (id == CLOCK_REALTIME ? 1000 * NOD_NS_PER_S : 0);
	passed += waits[calls++];
	*ts = (struct timespec){(time_t)(ns / NOD_NS_PER_S), (long)(ns % NOD_NS_PER_S)};
	return 0;
}

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

/* Four calls a reading. */
static void a_reading_with_a_wait_in_it_is_read_again(void **state)
{
	struct nod_clock_reading r;

	(void)state;
	memset(waits, 0, sizeof(waits));
	waits[1] = 80 * NOD_NS_PER_MS;
	waits[4] = 30 * NOD_NS_PER_MS;
	waits[8] = 40 * NOD_NS_PER_US;
	nod_clock_read(&r);
	assert_int_equal(calls, 12); /* the third is good enough */
	assert_int_equal(r.apart.ns, waits[8]);
	assert_int_equal(r.system.ns - r.monotonic.ns, 1000 * NOD_NS_PER_S + waits[8]);
	assert_int_equal(r.boottime.ns, passed);

	calls = 0; /* never good enough: the best */
	for (size_t i = 0; i < NOD_CLOCK_READINGS; i++)
		waits[4 * i] = (i == 2 ? 5 : 9) * NOD_NS_PER_MS;
	nod_clock_read(&r);
	assert_int_equal(calls, 4 * NOD_CLOCK_READINGS);
	assert_in_range(r.apart.ns, 5 * NOD_NS_PER_MS, 5 * NOD_NS_PER_MS);
	*waits = -1;
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
		cmocka_unit_test(a_reading_with_a_wait_in_it_is_read_again),
		cmocka_unit_test(cuts_toward_the_past),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
