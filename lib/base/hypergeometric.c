/* SPDX-License-Identifier: MIT */
#include "hypergeometric.h"

#include <errno.h>
#include <math.h>
#include <stdint.h>

/* A non-negative integer, least significant limb first. C(1000, 500) has 995
 * bits; a term times the small factors of one step stays below 1024 + 64. */
#define LIMBS 40

struct natural {
	uint32_t limb[LIMBS];
};

static void multiply(struct natural *n, uint32_t factor)
{
	uint64_t carry = 0;

	for (int i = 0; i < LIMBS; i++) {
		carry += (uint64_t)n->limb[i] * factor;
		n->limb[i] = (uint32_t)carry;
		carry >>= 32;
	}
}

/* The caller knows that the division leaves no remainder. */
static void divide(struct natural *n, uint32_t divisor)
{
	uint64_t rest = 0;

	for (int i = LIMBS - 1; i >= 0; i--) {
		rest = rest << 32 | n->limb[i];
		n->limb[i] = (uint32_t)(rest / divisor);
		rest %= divisor;
	}
}

static void add(struct natural *sum, const struct natural *n)
{
	uint64_t carry = 0;

	for (int i = 0; i < LIMBS; i++) {
		carry += (uint64_t)sum->limb[i] + n->limb[i];
		sum->limb[i] = (uint32_t)carry;
		carry >>= 32;
	}
}

/* n *= C(a, b), one exact step at a time. */
static void multiply_binomial(struct natural *n, unsigned a, unsigned b)
{
	struct natural c = *n;

	for (unsigned i = 1; i <= b; i++) {
		multiply(&c, a - b + i);
		divide(&c, i);
	}
	*n = c;
}

/* The leading 96 bits or more as m x 2^(32 shift). */
static long double leading(const struct natural *n, int *shift)
{
	int top = LIMBS - 1;
	long double m = 0;

	while (top > 2 && !n->limb[top])
		top--;
	for (int i = top; i >= top - 2; i--)
		m = m * 4294967296.0L + n->limb[i];
	*shift = top - 2;
	return m;
}

static double quotient(const struct natural *a, const struct natural *b)
{
	int shift_a, shift_b;
	long double m = leading(a, &shift_a) / leading(b, &shift_b);

	return (double)ldexpl(m, 32 * (shift_a - shift_b));
}

int nod_hypergeometric_tail(double *p, unsigned population, unsigned marked, unsigned drawn,
			    unsigned hits)
{
	if (population > NOD_HYPERGEOMETRIC_MAX)
		return -ERANGE;
	if (marked > population || drawn > population)
		return -EINVAL;
	unsigned unmarked = population - marked;
	unsigned least = drawn > unmarked ? drawn - unmarked : 0;
	unsigned most = drawn < marked ? drawn : marked;
	struct natural all = {{1}}, tail = {{0}}, term = {{1}};

	if (hits > most) {
		*p = 0;
		return 0;
	}
	if (hits < least)
		hits = least;
	multiply_binomial(&all, population, drawn);
	multiply_binomial(&term, marked, hits);
	multiply_binomial(&term, unmarked, drawn - hits);
	for (unsigned i = hits;; i++) {
		add(&tail, &term);
		if (i == most)
			break;
		/* from C(marked, i) C(unmarked, drawn - i) to the next */
		multiply(&term, (marked - i) * (drawn - i));
		divide(&term, (i + 1) * (unmarked - drawn + i + 1));
	}
	*p = quotient(&tail, &all);
	return 0;
}
