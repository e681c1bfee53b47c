/* SPDX-License-Identifier: MIT */
/* How unlikely a coincidence is: the upper tail of the hypergeometric
 * distribution, computed exactly in whole numbers of any length. */
#ifndef NOD_HYPERGEOMETRIC_H
#define NOD_HYPERGEOMETRIC_H

/* Largest population taken; a car has far fewer fuses. */
#define NOD_HYPERGEOMETRIC_MAX 1000

/* `marked` of `population` things have a property; `drawn` of them are taken
 * at random. *p becomes the probability that at least `hits` of the drawn ones
 * have the property. Numerator and denominator are exact integers; only their
 * quotient is rounded, once, to a double (relative error below 1e-15).
 * Returns 0, -EINVAL (marked or drawn exceed the population) or -ERANGE (the
 * population is too large). */
int nod_hypergeometric_tail(double *p, unsigned population, unsigned marked, unsigned drawn,
			    unsigned hits);

#endif
