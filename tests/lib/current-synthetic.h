/* SPDX-License-Identifier: MIT */
/* Made-up current traces for the tests: noise from a fixed generator. */
#ifndef NOD_TEST_CURRENT_SYNTHETIC_H
#define NOD_TEST_CURRENT_SYNTHETIC_H

#include <math.h>
#include <stdint.h>

#define T0 INT64_C(1700000000)

struct noise {
	uint32_t seed;
};

/* About normal with sigma 1: the sum of 12 uniform values. */
static inline double noise_next(struct noise *noise)
{
	double sum = -6;

	for (int i = 0; i < 12; i++) {
		noise->seed = noise->seed * 1664525u + 1013904223u;
		sum += (noise->seed >> 8) / 16777216.0;
	}
	return sum;
}

/* Slow wander of a clamp's zero, +-15 mA within the hour, in mA. */
static inline double wander_ma(double seconds)
{
	return 10 * sin(seconds / 1500) + 5 * sin(seconds / 611 + 1);
}

#endif
