/* SPDX-License-Identifier: MIT */
/* Random numbers of the session generator: the same seed gives the same
 * numbers on every machine. xoshiro256** seeded by splitmix64 (both public
 * domain algorithms); no floating point in what decides a session's course. */
#ifndef SIM_RANDOM_H
#define SIM_RANDOM_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct sim_random {
	uint64_t state[4];
};

/* `stream` separates independent sequences of one seed. */
void sim_random_seed(struct sim_random *random, uint64_t seed, uint64_t stream);
uint64_t sim_random_next(struct sim_random *random);

/* Uniform in first..last, both included; first when last < first. */
int64_t sim_random_range(struct sim_random *random, int64_t first, int64_t last);

/* The same with every doubling about equally likely; 0 < first <= last. */
int64_t sim_random_spread(struct sim_random *random, int64_t first, int64_t last);

/* True in `percent` of 100 cases. */
bool sim_random_chance(struct sim_random *random, unsigned percent);

/* About normal with mean 0 and the given standard deviation (sum of uniforms). */
int64_t sim_random_normal(struct sim_random *random, int64_t deviation);

#endif
