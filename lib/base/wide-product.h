/* SPDX-License-Identifier: MIT */
/* Products of two 64-bit numbers, divided: exact, on machines without 128-bit numbers, too. */
#ifndef NOD_WIDE_PRODUCT_H
#define NOD_WIDE_PRODUCT_H

#include <stdbool.h>
#include <stdint.h>

struct nod_quotient {
	uint64_t whole, rest;
};

/* a * b / divisor (which is not 0) and what is left over. False when the quotient is above
 * UINT64_MAX. */
bool nod_multiply_divide(struct nod_quotient *q, uint64_t a, uint64_t b, uint64_t divisor);

/* The same bit by bit, as 32-bit machines do it: here for the test. divisor below 2^63. */
bool nod_multiply_divide_plainly(struct nod_quotient *q, uint64_t a, uint64_t b, uint64_t divisor);

#endif
