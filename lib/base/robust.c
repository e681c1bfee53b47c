/* SPDX-License-Identifier: MIT */
#include "robust.h"

#include <math.h>
#include <stdlib.h>

static int compare(const void *a, const void *b)
{
	double x = *(const double *)a, y = *(const double *)b;
	return (x > y) - (x < y);
}

void nod_sort(double *values, size_t n)
{
	if (n > 1)
		qsort(values, n, sizeof(*values), compare);
}

double nod_median(double *values, size_t n)
{
	nod_sort(values, n);
	return n ? (values[(n - 1) / 2] + values[n / 2]) / 2 : NAN;
}

double nod_median_deviation(double *values, size_t n)
{
	double median = nod_median(values, n);

	for (size_t i = 0; i < n; i++)
		values[i] = fabs(values[i] - median);
	return nod_median(values, n);
}

double nod_robust_sigma(double *values, size_t n)
{
	return NOD_MAD_FACTOR * nod_median_deviation(values, n);
}

double nod_noise_sigma(const double *series, size_t n, double *room)
{
	if (n < 2)
		return 0;
	for (size_t i = 0; i + 1 < n; i++)
		room[i] = series[i + 1] - series[i];
	return nod_robust_sigma(room, n - 1) / M_SQRT2;
}
