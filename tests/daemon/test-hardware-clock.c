/* SPDX-License-Identifier: MIT */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include "hardware-clock.h"

#define BOOT INT64_C(1700000000000000000) /* system time at which the adapter's clock was 0 */

static int64_t map(struct nod_hardware_clock *clock, int64_t hardware, int64_t delay)
{
	return nod_hardware_clock_map(clock, (nod_time){hardware},
				      (nod_time){BOOT + hardware + delay})
		       .ns -
	       BOOT - hardware;
}

static void follows_the_smallest_delay(void **state)
{
	struct nod_hardware_clock clock = {0};

	(void)state;
	assert_int_equal(map(&clock, 1000, 900000), 900000);
	assert_int_equal(map(&clock, 2000, 200000), 200000);
	/* a late delivery 1 ms on moves the offset by the allowed drift only: 200 ppm */
	assert_int_equal(map(&clock, 1002000, 5000000), 200200);
}

static void follows_a_drifting_adapter(void **state)
{
	struct nod_hardware_clock clock = {0};
	int64_t error = 0;

	(void)state;
	for (int64_t s = 0; s < 3600; s++) /* the adapter's clock is 100 ppm slow */
		error = map(&clock, s * NOD_NS_PER_S, s * 100000) - s * 100000;
	assert_int_equal(error, 0);
}

static void is_never_later_than_the_kernel(void **state)
{
	struct nod_hardware_clock clock = {0};

	(void)state;
	for (int64_t i = 0; i < 1000; i++) {
		int64_t delay = i * 7919 % 1000000;
		assert_true(map(&clock, i * 1000000, delay) <= delay);
	}
}

static void begins_anew_when_the_adapter_does(void **state)
{
	struct nod_hardware_clock clock = {0};

	(void)state;
	map(&clock, 100 * NOD_NS_PER_S, 0);
	assert_int_equal(map(&clock, 5, 50 * NOD_NS_PER_S), 50 * NOD_NS_PER_S);
	assert_int_equal(map(&clock, 10, 70 * NOD_NS_PER_S), 70 * NOD_NS_PER_S);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(follows_the_smallest_delay),
		cmocka_unit_test(follows_a_drifting_adapter),
		cmocka_unit_test(is_never_later_than_the_kernel),
		cmocka_unit_test(begins_anew_when_the_adapter_does),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
