/* SPDX-License-Identifier: MIT */
#include "least-squares.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "robust.h"

/* A pivot this small against the diagonal it came from is none. The entries
 * are small whole numbers times weights, so rounding is far below. */
#define PIVOT_LEAST 1e-9

struct system {
	const double *a, *y, *error;
	size_t rows, n;
	double *weight; /* rows */
	double *misfit; /* rows, in standard errors; and as much room again */
	double *matrix; /* n x 2n: normal equations beside their inverse */
	double *right;  /* n */
};

static void build(struct system *s)
{
	memset(s->matrix, 0, 2 * s->n * s->n * sizeof(double));
	memset(s->right, 0, s->n * sizeof(double));
	for (size_t r = 0; r < s->rows; r++) {
		const double *row = s->a + r * s->n;
		double w = s->weight[r] / (s->error[r] * s->error[r]);
		for (size_t i = 0; i < s->n; i++) {
			s->right[i] += w * row[i] * s->y[r];
			for (size_t k = 0; k < s->n; k++)
				s->matrix[i * 2 * s->n + k] += w * row[i] * row[k];
		}
	}
	for (size_t i = 0; i < s->n; i++)
		s->matrix[i * 2 * s->n + s->n + i] = 1;
}

static void eliminate(struct system *s, size_t pivot)
{
	size_t width = 2 * s->n;
	double *row = s->matrix + pivot * width, p = row[pivot];

	for (size_t k = 0; k < width; k++)
		row[k] /= p;
	for (size_t i = 0; i < s->n; i++) {
		double *other = s->matrix + i * width, factor = other[pivot];
		if (i == pivot || factor == 0)
			continue;
		for (size_t k = 0; k < width; k++)
			other[k] -= factor * row[k];
	}
}

/* Gauss-Jordan on the diagonal (the matrix is symmetric and not negative). An
 * unknown without a pivot is free, and so is every one it leads into. */
static void invert(struct system *s, bool *known)
{
	size_t width = 2 * s->n;
	double *diagonal = s->right + s->n;

	for (size_t i = 0; i < s->n; i++)
		diagonal[i] = s->matrix[i * width + i];
	for (size_t i = 0; i < s->n; i++) {
		known[i] = s->matrix[i * width + i] > PIVOT_LEAST * diagonal[i];
		if (known[i])
			eliminate(s, i);
	}
	for (size_t i = 0; i < s->n; i++)
		for (size_t k = 0; k < s->n; k++)
			if (!known[k] && i != k && fabs(s->matrix[i * width + k]) > PIVOT_LEAST)
				known[i] = false;
}

static void evaluate(struct system *s, struct nod_linear *fit)
{
	size_t n = s->n;

	for (size_t i = 0; i < n; i++) {
		const double *inverse = s->matrix + i * 2 * n + n;
		fit->value[i] = 0;
		for (size_t k = 0; k < n; k++)
			fit->value[i] += inverse[k] * s->right[k];
		fit->error[i] = sqrt(fmax(inverse[i], 0));
	}
	for (size_t r = 0; r < s->rows; r++) {
		double miss = s->y[r];
		for (size_t i = 0; i < n; i++)
			miss -= s->a[r * n + i] * fit->value[i];
		s->misfit[r] = miss / s->error[r];
	}
}

/* How much more the rows scatter than their errors say; at least 1. */
static double scatter(struct system *s)
{
	double *room = s->misfit + s->rows;

	if (s->rows <= s->n)
		return 1;
	for (size_t r = 0; r < s->rows; r++)
		room[r] = fabs(s->misfit[r]);
	double sigma = NOD_MAD_FACTOR * nod_median(room, s->rows);
	return fmax(1, sigma * sqrt((double)s->rows / (double)(s->rows - s->n)));
}

static void fit_all(struct system *s, struct nod_linear *fit, double sigmas, int passes)
{
	double spread = 1;

	for (size_t r = 0; r < s->rows; r++)
		s->weight[r] = 1;
	for (int pass = 0; pass <= passes; pass++) {
		build(s);
		invert(s, fit->known);
		evaluate(s, fit);
		spread = scatter(s);
		for (size_t r = 0; r < s->rows; r++) {
			double miss = fabs(s->misfit[r]) / spread;
			s->weight[r] = miss > sigmas ? sigmas / miss : 1;
		}
	}
	for (size_t i = 0; i < s->n; i++)
		fit->error[i] *= spread;
}

int nod_linear_fit(struct nod_linear *fit, const double *a, const double *y, const double *error,
		   size_t rows, size_t unknowns, double sigmas, int passes)
{
	struct system s = {.a = a, .y = y, .error = error, .rows = rows, .n = unknowns};
	double *room = calloc(3 * rows + 2 * unknowns * unknowns + 2 * unknowns + 1, sizeof(*room));
	int rc = -ENOMEM;

	*fit = (struct nod_linear){.unknowns = unknowns};
	fit->value = calloc(unknowns + 1, sizeof(*fit->value));
	fit->error = calloc(unknowns + 1, sizeof(*fit->error));
	fit->known = calloc(unknowns + 1, sizeof(*fit->known));
	if (room && fit->value && fit->error && fit->known) {
		s.weight = room;
		s.misfit = room + rows;
		s.right = room + 3 * rows;
		s.matrix = s.right + 2 * unknowns;
		fit_all(&s, fit, sigmas, passes);
		rc = 0;
	}
	free(room);
	if (rc)
		nod_linear_free(fit);
	return rc;
}

void nod_linear_free(struct nod_linear *fit)
{
	free(fit->value);
	free(fit->error);
	free(fit->known);
	*fit = (struct nod_linear){0};
}
