/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "wide-product.h"

static const uint64_t numbers[] = {0,
				   1,
				   2,
				   3,
				   9,
				   10,
				   999,
				   1000000007,
				   UINT32_MAX,
				   UINT64_C(1) << 32,
				   UINT64_C(1000000000000000003),
				   INT64_MAX - 1,
				   INT64_MAX,
				   UINT64_C(1) << 63,
				   UINT64_MAX - 1,
				   UINT64_MAX};
#define NUMBERS (sizeof(numbers) / sizeof(numbers[0]))

static void divides_products(void **state)
{
	struct nod_quotient q;

	(void)state;
	assert_true(nod_multiply_divide(&q, 7, 5, 4));
	assert_int_equal(q.whole, 8);
	assert_int_equal(q.rest, 3);
	/* 10^18 * 10^18 / 10^17 = 10^19, below 2^64 */
	assert_true(nod_multiply_divide(&q, UINT64_C(1000000000000000000),
					UINT64_C(1000000000000000000),
					UINT64_C(100000000000000000)));
	assert_true(q.whole == UINT64_C(10000000000000000000) && !q.rest);
	assert_false(nod_multiply_divide(&q, UINT64_MAX, 2, 1));
	assert_true(nod_multiply_divide(&q, UINT64_MAX, UINT64_MAX, UINT64_MAX));
	assert_true(q.whole == UINT64_MAX && !q.rest);
}

/* Bit by bit it is the same, in range and out of it. */
static void is_the_same_bit_by_bit(void **state)
{
	(void)state;
	for (size_t i = 0; i < NUMBERS * NUMBERS * NUMBERS; i++) {
		uint64_t a = numbers[i % NUMBERS], b = numbers[i / NUMBERS % NUMBERS];
		uint64_t divisor = numbers[i / NUMBERS / NUMBERS];
		struct nod_quotient one, other;
		if (!divisor || divisor > INT64_MAX)
			continue;
		int fits = nod_multiply_divide(&one, a, b, divisor);
		assert_int_equal(nod_multiply_divide_plainly(&other, a, b, divisor), fits);
		if (fits)
			assert_true(one.whole == other.whole && one.rest == other.rest);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(divides_products),
		cmocka_unit_test(is_the_same_bit_by_bit),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
