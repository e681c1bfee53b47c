/* SPDX-License-Identifier: MIT */
/* When the hand was at the fuse, as the silent IDs have it. */
#include "learn-isolations-internal.h"

#include <math.h>

/* When what was isolated lets the network sleep, the others stop after it: an
 * ID that stopped later than the isolation did so by itself with this
 * probability, when the network slept afterwards. Chosen. */
#define FOLLOWS 0.3

static bool stopped_in_window(const struct nod_learn_view *v)
{
	return v->stop >= v->from - v->margin;
}

static int64_t due(const struct nod_learn_view *v)
{
	return v->stop + (int64_t)(NOD_LEARN_DUE_PERIODS * v->interval);
}

static bool fits_moment(const struct nod_learn_view *v, const struct nod_learn_moment *m)
{
	return v->stop <= m->to && due(v) >= m->from;
}

/* Log-probability of all the silences if it was done at m. */
static double explain(const struct nod_learn_view *views, size_t count,
		      const struct nod_learn_moment *m)
{
	double sum = 0;

	for (size_t i = 0; i < count; i++) {
		const struct nod_learn_view *v = &views[i];
		bool slept = nod_learn_slept_between(v, v->stop, nod_learn_least(v->resume, v->to));
		if (!stopped_in_window(v) || fits_moment(v, m))
			continue;
		sum += log(v->stop > m->to && slept ? FOLLOWS : v->accident);
	}
	return sum;
}

/* One moment for each silent ID, with its posterior. */
void nod_learn_weigh_moments(const struct nod_learn_view *views, size_t count,
			     struct nod_learn_moment *moments)
{
	double best = -INFINITY, total = 0;

	for (size_t i = 0; i < count; i++) {
		moments[i] = (struct nod_learn_moment){views[i].stop, due(&views[i]), -INFINITY};
		if (stopped_in_window(&views[i]))
			moments[i].posterior = explain(views, count, &moments[i]);
		best = fmax(best, moments[i].posterior);
	}
	for (size_t i = 0; i < count; i++) {
		moments[i].posterior = isfinite(best) ? exp(moments[i].posterior - best) : 0;
		total += moments[i].posterior;
	}
	for (size_t i = 0; i < count && total > 0; i++)
		moments[i].posterior /= total;
}

/* The probability that it was done when this ID stopped. */
double nod_learn_at_its_moment(const struct nod_learn_view *v,
			       const struct nod_learn_moment *moments, size_t count)
{
	double sum = 0;

	if (!stopped_in_window(v))
		return 1;
	for (size_t i = 0; i < count; i++)
		sum += fits_moment(v, &moments[i]) ? moments[i].posterior : 0;
	return fmin(1, sum);
}
