/* SPDX-License-Identifier: MIT */
#include "wide-product.h"

/* Adds `whole` and `rest` divisors' parts; the rest stays below the divisor. */
static bool add(struct nod_quotient *q, uint64_t whole, uint64_t rest, uint64_t divisor)
{
	q->rest += rest; /* both below 2^63 */
	if (q->rest >= divisor) {
		q->rest -= divisor;
		if (__builtin_add_overflow(q->whole, 1, &q->whole))
			return false;
	}
	return !__builtin_add_overflow(q->whole, whole, &q->whole);
}

bool nod_multiply_divide_plainly(struct nod_quotient *q, uint64_t a, uint64_t b, uint64_t divisor)
{
	uint64_t whole = a / divisor, rest = a % divisor;

	*q = (struct nod_quotient){0, 0};
	for (int bit = 63; bit >= 0; bit--) {
		if (!add(q, q->whole, q->rest, divisor))
			return false;
		if (b >> bit & 1 && !add(q, whole, rest, divisor))
			return false;
	}
	return true;
}

bool nod_multiply_divide(struct nod_quotient *q, uint64_t a, uint64_t b, uint64_t divisor)
{
#ifdef __SIZEOF_INT128__
	__extension__ typedef unsigned __int128 wide;
	wide product = (wide)a * b, whole = product / divisor;

	*q = (struct nod_quotient){(uint64_t)whole, (uint64_t)(product % divisor)};
	return whole <= UINT64_MAX;
#else
	return nod_multiply_divide_plainly(q, a, b, divisor);
#endif
}
