/* SPDX-License-Identifier: MIT */
/* How likely a silence was sleep, by how it ended, how it began and what was kept: the rule that
 * everything in holes.c ends in. */
#include <math.h>

#include "holes.h"

/* What is said of a silence when nothing else is known: sleep from end to end; asleep first and
 * then not listened to; the other way round; not listened to; switched off and on again. The
 * first row is for recordings of unknown loggers: where the rhythm carries nothing it is not
 * enough for a claim. The second is for our own, which write down every gap of theirs, but
 * cannot see a plug that is pulled at the car. The third is for what may be one module on a
 * bench, whoever records it. Chosen. */
static const double priors[3][5] = {
	{0.56, 0.02, 0.03, 0.39, 0}, {1, 1e-6, 1e-6, 1e-6, 0}, {0.3, 0.02, 0.03, 0.2, 0.45}};
enum { UNKNOWN_LOGGER, OURS, BENCH };
enum { WHOLE, SLEPT_FIRST, SLEPT_LAST, HOLE, SWITCHED };

/* Clues of one kind can be wrong together. Chosen. */
#define CLUES_MAX 8.0

static double within(double value, double limit)
{
	return fmax(-limit, fmin(value, limit));
}

struct nod_silence_odds nod_silence_weigh(const struct nod_analysis *a, double fade, double boot,
					  double kept)
{
	const double *prior = priors[nod_analysis_may_be_bench(a) ? BENCH
				     : a->engine->listened        ? OURS
								  : UNKNOWN_LOGGER];
	double f = exp(within(fade, CLUES_MAX)), b = exp(within(boot, CLUES_MAX));
	double whole = prior[WHOLE] * f * b, first = prior[SLEPT_FIRST] * f;
	double last = prior[SLEPT_LAST] * b;
	double hole = prior[HOLE] * exp(within(kept, CLUES_MAX)) + prior[SWITCHED] * b;
	double all = whole + first + last + hole;

	return (struct nod_silence_odds){(whole + first) / all, (whole + last) / all, whole / all};
}
