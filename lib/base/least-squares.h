/* SPDX-License-Identifier: MIT */
/* Weighted linear least squares that a few wild values cannot spoil. */
#ifndef NOD_LEAST_SQUARES_H
#define NOD_LEAST_SQUARES_H

#include <stdbool.h>
#include <stddef.h>

struct nod_linear {
	size_t unknowns;
	double *value; /* of each unknown */
	double *error; /* its standard error, widened when the rows scatter more than stated */
	bool *known;   /* false: the rows do not determine it */
};

/* Fits a (rows x unknowns, row by row) x value = y, y[i] with standard error
 * error[i] > 0. Rows that miss by more than `sigmas` standard errors (of the
 * scatter seen) lose weight, in `passes` rounds (Huber). An unknown that the
 * rows do not determine alone is marked so, together with those it is tangled
 * with. Returns 0 or -ENOMEM; free the result. */
int nod_linear_fit(struct nod_linear *fit, const double *a, const double *y, const double *error,
		   size_t rows, size_t unknowns, double sigmas, int passes);

void nod_linear_free(struct nod_linear *fit);

#endif
