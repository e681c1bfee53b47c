/* SPDX-License-Identifier: MIT */
#include "period.h"

#include <string.h>

/* Below this many intervals a period is not stated. Chosen: the median of
 * five survives two outliers. */
#define MIN_INTERVALS 5

/* An interval belongs to the period when it is within a quarter of it: wide
 * enough for the jitter of a loaded bus and a merged recorder (tens of
 * milliseconds at 100 ms), narrow enough to reject half and double. Chosen. */
#define SAME_PERIOD_SHARE 0.25

/* Of the intervals, how many must belong to the period. Chosen. */
#define CYCLIC_SHARE 0.9
#define MIXED_SHARE 0.5

/* Intervals that a pace needs. Chosen: two may be chance. */
#define FASTEST_ALIKE 3

/* 1 / qnorm(3/4): makes the median absolute deviation of normal noise its
 * standard deviation (R stats::mad uses 1.4826). */
#define MAD_FACTOR 1.4826

static void halve(struct nod_sampler *sampler)
{
	for (int i = 0; i < NOD_SAMPLER_ROOM / 2; i++)
		sampler->us[i] = sampler->us[2 * i];
	sampler->used = NOD_SAMPLER_ROOM / 2;
	sampler->stride++;
}

void nod_sampler_keep(struct nod_sampler *sampler, int64_t interval_ns)
{
	int64_t us = interval_ns / NOD_NS_PER_US;

	if (sampler->used == NOD_SAMPLER_ROOM)
		halve(sampler);
	sampler->us[sampler->used++] = us < UINT32_MAX ? (uint32_t)us : UINT32_MAX;
	sampler->skip = sampler->stride < 31 ? (1u << sampler->stride) - 1 : INT32_MAX;
}

void nod_sampler_forget_below(struct nod_sampler *sampler, int64_t interval_ns)
{
	unsigned kept = 0;

	for (unsigned i = 0; i < sampler->used; i++)
		if ((int64_t)sampler->us[i] * NOD_NS_PER_US >= interval_ns)
			sampler->us[kept++] = sampler->us[i];
	sampler->used = (uint8_t)kept;
}

/* Few: qsort() would cost several times as much. */
static void sort(uint32_t *values, unsigned count)
{
	for (unsigned i = 1; i < count; i++) {
		uint32_t value = values[i];
		unsigned at = i;
		for (; at > 0 && values[at - 1] > value; at--)
			values[at] = values[at - 1];
		values[at] = value;
	}
}

static uint32_t median_of(uint32_t *values, unsigned count)
{
	sort(values, count);
	return (uint32_t)(((uint64_t)values[(count - 1) / 2] + values[count / 2]) / 2);
}

static uint32_t distance(uint32_t a, uint32_t b)
{
	return a > b ? a - b : b - a;
}

struct nod_period nod_sampler_period(const struct nod_sampler *sampler)
{
	struct nod_period result = {NOD_RHYTHM_UNKNOWN, NOD_DURATION_NONE, NOD_DURATION_NONE};
	uint32_t sorted[NOD_SAMPLER_ROOM], deviations[NOD_SAMPLER_ROOM];
	unsigned near = 0;

	if (sampler->used < MIN_INTERVALS)
		return result;
	memcpy(sorted, sampler->us, sampler->used * sizeof(sorted[0]));
	uint32_t median = median_of(sorted, sampler->used);
	for (unsigned i = 0; i < sampler->used; i++) {
		deviations[i] = distance(sampler->us[i], median);
		near += deviations[i] <= SAME_PERIOD_SHARE * median;
	}
	uint32_t mad = median_of(deviations, sampler->used);
	result.period.ns = (int64_t)median * NOD_NS_PER_US;
	result.jitter.ns = (int64_t)(MAD_FACTOR * mad * (double)NOD_NS_PER_US);
	result.rhythm = near >= CYCLIC_SHARE * sampler->used  ? NOD_RHYTHM_CYCLIC
			: near >= MIXED_SHARE * sampler->used ? NOD_RHYTHM_MIXED
							      : NOD_RHYTHM_ON_EVENT;
	return result;
}

bool nod_sampler_is_enough(const struct nod_sampler *sampler)
{
	return sampler->used >= MIN_INTERVALS;
}

bool nod_sampler_is_slower(const struct nod_sampler *sampler, int64_t interval_ns)
{
	int64_t us = interval_ns / NOD_NS_PER_US + 1;
	unsigned n = sampler->used, slower = 0;

	for (unsigned i = 0; i < n; i++)
		slower += sampler->us[i] >= us;
	/* both of the middle ones are */
	return n >= MIN_INTERVALS && slower >= n - (n - 1) / 2;
}

nod_duration nod_sampler_fastest(const struct nod_sampler *sampler)
{
	uint32_t sorted[NOD_SAMPLER_ROOM];
	unsigned alike = 0;

	if (sampler->used < MIN_INTERVALS)
		return NOD_DURATION_NONE;
	memcpy(sorted, sampler->us, sampler->used * sizeof(sorted[0]));
	sort(sorted, sampler->used);
	uint32_t fast = sorted[sampler->used / 8];
	for (unsigned i = 0; i < sampler->used; i++)
		alike += distance(sorted[i], fast) <= SAME_PERIOD_SHARE * fast;
	if (alike < FASTEST_ALIKE)
		return NOD_DURATION_NONE;
	return (nod_duration){(int64_t)fast * NOD_NS_PER_US};
}

const char *nod_rhythm_name(enum nod_rhythm rhythm)
{
	static const char *const names[] = {"?", "cyclic", "cyclic with events", "on event"};
	return names[rhythm];
}
