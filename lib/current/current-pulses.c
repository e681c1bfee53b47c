/* SPDX-License-Identifier: MIT */
#include "current-pulses.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>

#include "robust.h"

/* Pulses are alike when neither height nor length differs by more than this
 * factor. Chosen: one unit's report varies with reception (80-240 mA is one
 * kind), a wake-up of amps is another. */
#define ALIKE_HEIGHT 2.5
#define ALIKE_LENGTH 2.5

/* A period needs so many intervals of it, and so large a share of all
 * intervals within the tolerance of it or, a pulse missed, of its double or
 * triple. Chosen: of intervals that follow no period (exponential) about a
 * third fall within. */
#define PERIOD_LEAST 3
#define PERIOD_SHARE 0.75
#define PERIOD_TOLERANCE 0.15
#define PERIOD_MULTIPLE 3

static double length_of(const struct nod_current_pulse *p)
{
	return (double)nod_time_since(p->to, p->from).ns;
}

static bool within_factor(double a, double b, double factor)
{
	return a <= factor * b && b <= factor * a;
}

static int group_of(const struct nod_current_pulse *pulses, size_t i, const size_t *leaders,
		    int groups, double resolution)
{
	for (int g = 0; g < groups; g++) {
		const struct nod_current_pulse *l = &pulses[leaders[g]], *p = &pulses[i];
		if (within_factor(l->height_ua, p->height_ua, ALIKE_HEIGHT) &&
		    within_factor(length_of(l) + resolution, length_of(p) + resolution,
				  ALIKE_LENGTH))
			return g;
	}
	return -1;
}

/* Is the interval one, two or three periods? 0: neither. */
static int multiple_of(double interval, double period)
{
	double n = round(interval / period);

	return n >= 1 && n <= PERIOD_MULTIPLE &&
			       fabs(interval - n * period) <= PERIOD_TOLERANCE * period
		       ? (int)n
		       : 0;
}

static void find_period(struct nod_current_pulse_group *group, const double *intervals, size_t n,
			double *room)
{
	size_t fit = 0, single = 0;

	group->period = group->jitter = NOD_DURATION_NONE;
	for (size_t i = 0; i < n; i++)
		room[i] = intervals[i];
	double period = nod_median(room, n);
	for (size_t i = 0; i < n; i++) {
		int multiple = multiple_of(intervals[i], period);
		fit += multiple > 0;
		if (multiple == 1)
			room[single++] = intervals[i];
	}
	if (single < PERIOD_LEAST || (double)fit < PERIOD_SHARE * (double)n)
		return;
	group->periodic = true;
	group->period.ns = (int64_t)nod_median(room, single);
	group->jitter.ns = (int64_t)nod_robust_sigma(room, single);
}

static bool telemetry_like(const struct nod_current_pulse_group *g)
{
	double seconds = (double)g->duration.ns / 1e9, period = (double)g->period.ns / 1e9;

	return g->periodic && g->height_ua >= NOD_TELEMETRY_LOW_UA &&
	       g->height_ua <= NOD_TELEMETRY_HIGH_UA && seconds >= NOD_TELEMETRY_SHORT_S &&
	       seconds <= NOD_TELEMETRY_LONG_S && period >= NOD_TELEMETRY_OFTEN_S &&
	       period <= NOD_TELEMETRY_SELDOM_S;
}

/* room holds 4 x the number of pulses. */
static void describe(struct nod_current_pulse_group *group, const struct nod_current_pulse *pulses,
		     size_t count, int g, double measured_s, double *room)
{
	double *heights = room, *lengths = room + count, *gaps = room + 2 * count, charge = 0;
	size_t n = 0;

	*group = (struct nod_current_pulse_group){.first = NOD_TIME_NONE};
	for (size_t i = 0; i < count; i++) {
		if (pulses[i].group != g)
			continue;
		heights[n] = pulses[i].height_ua;
		lengths[n] = length_of(&pulses[i]);
		if (n)
			gaps[n - 1] = (double)nod_time_since(pulses[i].from, group->last).ns;
		else
			group->first = pulses[i].from;
		group->last = pulses[i].from;
		charge += pulses[i].charge_uah;
		n++;
	}
	group->count = n;
	group->height_ua = nod_median(heights, n);
	group->duration.ns = (int64_t)nod_median(lengths, n);
	group->average_ua = measured_s > 0 ? charge * 3600 / measured_s : 0;
	find_period(group, gaps, n - 1, room + 3 * count);
	group->telemetry_like = telemetry_like(group);
}

/* Insertion sort by average, largest first; pulses keep pointing right. */
static void order(struct nod_current_pulse_group *groups, int n, struct nod_current_pulse *pulses,
		  size_t count)
{
	int place[NOD_PULSE_GROUPS], rank[NOD_PULSE_GROUPS];

	for (int i = 0; i < n; i++) {
		struct nod_current_pulse_group g = groups[i];
		int j = i;
		for (; j > 0 && groups[j - 1].average_ua < g.average_ua; j--) {
			groups[j] = groups[j - 1];
			place[j] = place[j - 1];
		}
		groups[j] = g;
		place[j] = i;
	}
	for (int i = 0; i < n; i++)
		rank[place[i]] = i;
	for (size_t i = 0; i < count; i++)
		if (pulses[i].group >= 0)
			pulses[i].group = rank[pulses[i].group];
}

int nod_pulses_group(struct nod_current_pulse_group groups[NOD_PULSE_GROUPS],
		     struct nod_current_pulse *pulses, size_t count, nod_time since,
		     double measured_s, nod_duration resolution)
{
	size_t leaders[NOD_PULSE_GROUPS];
	int n = 0;
	double *room = calloc(4 * count + 1, sizeof(*room));

	if (!room)
		return -ENOMEM;
	for (size_t i = 0; i < count; i++) {
		pulses[i].group = -1;
		if (pulses[i].height_ua <= 0 || pulses[i].from.ns < since.ns)
			continue;
		pulses[i].group = group_of(pulses, i, leaders, n, (double)resolution.ns);
		if (pulses[i].group < 0 && n < NOD_PULSE_GROUPS) {
			leaders[n] = i;
			pulses[i].group = n++;
		}
	}
	for (int g = 0; g < n; g++)
		describe(&groups[g], pulses, count, g, measured_s, room);
	order(groups, n, pulses, count);
	free(room);
	return n;
}
