/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "event.h"
#include "mark-forms.h"

static struct nod_interfaces interfaces = {.count = 2, .names = {"can0", "can10"}};

static int gap(const char *subject, uint8_t *interface, nod_duration *length)
{
	struct nod_mark mark = {.kind = NOD_MARK_GAP, .subject = subject};
	return nod_mark_gap(&mark, &interfaces, interface, length);
}

static int step(const char *subject, nod_duration *by)
{
	struct nod_mark mark = {.kind = NOD_MARK_CLOCK_STEP, .subject = subject};
	return nod_mark_clock_step(&mark, by);
}

static void test_a_gap_names_interface_and_length(void **state)
{
	(void)state;
	uint8_t interface;
	nod_duration length;
	assert_int_equal(gap("can10 38 min", &interface, &length), 0);
	assert_int_equal(interface, 1);
	assert_int_equal(length.ns, 38 * 60 * NOD_NS_PER_S);
	assert_int_equal(gap("all 2.5 s", &interface, &length), 0);
	assert_int_equal(interface, NOD_ALL_INTERFACES);
	assert_int_equal(length.ns, 2500 * NOD_NS_PER_MS);
}

static void test_an_interface_nobody_records_is_told_apart_from_nonsense(void **state)
{
	(void)state;
	uint8_t interface;
	nod_duration length;
	assert_int_equal(gap("can1 38 min", &interface, &length), -ENOENT);
	assert_int_equal(gap("can 38 min", &interface, &length), -ENOENT);
	assert_int_equal(gap("can0", &interface, &length), -EINVAL);
	assert_int_equal(gap("can0 for long", &interface, &length), -EINVAL);
	assert_int_equal(gap("", &interface, &length), -EINVAL);
}

static void test_a_clock_step_has_its_sign(void **state)
{
	(void)state;
	nod_duration by;
	assert_int_equal(step("+3600 s", &by), 0);
	assert_int_equal(by.ns, 3600 * NOD_NS_PER_S);
	assert_int_equal(step("-1.5 s", &by), 0);
	assert_int_equal(by.ns, -1500 * NOD_NS_PER_MS);
	assert_int_equal(step("unknown", &by), -EINVAL);
	assert_int_equal(step("", &by), -EINVAL);
	assert_int_equal(step("+", &by), -EINVAL);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_a_gap_names_interface_and_length),
		cmocka_unit_test(test_an_interface_nobody_records_is_told_apart_from_nonsense),
		cmocka_unit_test(test_a_clock_step_has_its_sign),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
