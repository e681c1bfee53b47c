/* SPDX-License-Identifier: MIT */
/* Statistics that a few wild values cannot spoil.
 *
 * Values must be finite. Functions that take `double *` reorder the values.
 * n == 0 gives NAN. Pure functions; nothing to free. */
#ifndef NOD_ROBUST_H
#define NOD_ROBUST_H

#include <stddef.h>

/* 1 / qnorm(3/4): makes the median absolute deviation of normal noise its
 * standard deviation. Published: statsmodels uses qnorm(3/4) =
 * 0.6744897501960817; R stats::mad rounds the factor to 1.4826. */
#define NOD_MAD_FACTOR 1.482602218505602

void nod_sort(double *values, size_t n);

/* The middle value, for an even n the mean of the two middle ones. */
double nod_median(double *values, size_t n);

/* Median of the absolute deviations from the median, without a factor. */
double nod_median_deviation(double *values, size_t n);

/* Standard deviation of normal noise: NOD_MAD_FACTOR x the above. */
double nod_robust_sigma(double *values, size_t n);

/* Noise of a series whose level changes now and then: the robust sigma of its
 * first differences / sqrt(2). `room` holds n - 1 values and is overwritten;
 * the series is not. 0 for n < 2. */
double nod_noise_sigma(const double *series, size_t n, double *room);

#endif
