/* SPDX-License-Identifier: MIT */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "bit-times.h"

static void move(struct nod_bit_times *t, unsigned bit, int64_t ms, bool up)
{
	uint64_t mask = UINT64_C(1) << bit;

	nod_bit_times_take(t, mask, up ? mask : 0, (nod_time){(5000 + ms) * NOD_NS_PER_MS});
}

static void test_even_rises_have_no_spread(void **state)
{
	(void)state;
	struct nod_bit_times t = {0};
	for (int i = 0; i < 10; i++) { /* on for a short while, off for long */
		move(&t, 7, 2000 * i, true);
		move(&t, 7, 2000 * i + 300, false);
	}
	assert_true(fabs(nod_bit_times_mean(&t, 7) - 2) < 0.001);
	assert_true(nod_bit_times_spread(&t, 7) < 0.001);
	assert_true(isnan(nod_bit_times_mean(&t, 8)));
}

static void test_uneven_rises_spread(void **state)
{
	(void)state;
	static const int64_t at[] = {0, 1000, 9000, 9500, 30000};
	struct nod_bit_times t = {0};
	for (int i = 0; i < 5; i++) {
		move(&t, 63, at[i], true);
		assert_true(i < 3 ? isnan(nod_bit_times_spread(&t, 63))
				  : nod_bit_times_spread(&t, 63) > 0.5);
		move(&t, 63, at[i] + 400, false);
	}
}

static void test_a_bounce_is_no_move_of_its_own(void **state)
{
	(void)state;
	struct nod_bit_times t = {0};
	for (int i = 0; i < 5; i++) {
		move(&t, 0, 3000 * i, true);
		move(&t, 0, 3000 * i + 20, false);
		move(&t, 0, 3000 * i + 40, true);
		move(&t, 0, 3000 * i + 1000, false);
	}
	assert_int_equal(t.rises[0], 5);
	assert_int_equal(t.moves[0], 10);
	assert_true(nod_bit_times_spread(&t, 0) < 0.001);
}

/* Bit 3 of one message moves, bit 5 of the other 80 ms later the other way. */
static void test_who_moves_after_another_follows_it(void **state)
{
	(void)state;
	static const int64_t at[] = {0, 1000, 9000, 9500, 30000, 31000};
	struct nod_bit_times a = {0}, b = {0};
	for (int i = 0; i < 6; i++) {
		assert_false(i < 4 && nod_bit_times_follow(&a, 3, &b, 5, 100));
		move(&a, 3, at[i], i % 2);
		move(&b, 5, at[i] + 80, i % 2 == 0);
	}
	assert_true(nod_bit_times_follow(&a, 3, &b, 5, 100));
	assert_false(nod_bit_times_follow(&b, 5, &a, 3, 100));
	assert_false(nod_bit_times_follow(&a, 3, &b, 5, 50)); /* too late for that */
	move(&b, 5, 40000, true);                             /* without the other */
	assert_false(nod_bit_times_follow(&a, 3, &b, 5, 100));
}

int main(void)
{
	static const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_even_rises_have_no_spread),
		cmocka_unit_test(test_uneven_rises_spread),
		cmocka_unit_test(test_a_bounce_is_no_move_of_its_own),
		cmocka_unit_test(test_who_moves_after_another_follows_it),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
