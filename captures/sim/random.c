/* SPDX-License-Identifier: MIT */
#include "random.h"

static uint64_t splitmix(uint64_t *state)
{
	uint64_t z = *state += UINT64_C(0x9E3779B97F4A7C15);

	z = (z ^ z >> 30) * UINT64_C(0xBF58476D1CE4E5B9);
	z = (z ^ z >> 27) * UINT64_C(0x94D049BB133111EB);
	return z ^ z >> 31;
}

void sim_random_seed(struct sim_random *random, uint64_t seed, uint64_t stream)
{
	uint64_t state = seed * UINT64_C(0xD1342543DE82EF95) + stream;

	for (int i = 0; i < 4; i++)
		random->state[i] = splitmix(&state);
}

static uint64_t rotate(uint64_t x, int by)
{
	return x << by | x >> (64 - by);
}

uint64_t sim_random_next(struct sim_random *random)
{
	uint64_t *s = random->state;
	uint64_t result = rotate(s[1] * 5, 7) * 9;
	uint64_t t = s[1] << 17;

	s[2] ^= s[0];
	s[3] ^= s[1];
	s[1] ^= s[2];
	s[0] ^= s[3];
	s[2] ^= t;
	s[3] = rotate(s[3], 45);
	return result;
}

int64_t sim_random_range(struct sim_random *random, int64_t first, int64_t last)
{
	if (last <= first)
		return first;
	/* The bias of the remainder is far below anything a session shows. */
	return first + (int64_t)(sim_random_next(random) % ((uint64_t)(last - first) + 1));
}

int64_t sim_random_spread(struct sim_random *random, int64_t first, int64_t last)
{
	int octaves = 0;

	while (first <= last >> (octaves + 1))
		octaves++;
	int64_t low = first << sim_random_range(random, 0, octaves);
	return sim_random_range(random, low, last < 2 * low ? last : 2 * low);
}

bool sim_random_chance(struct sim_random *random, unsigned percent)
{
	return sim_random_next(random) % 100 < percent;
}

int64_t sim_random_normal(struct sim_random *random, int64_t deviation)
{
	/* Four uniforms in +-10000: standard deviation 10000 * 2 / sqrt(3) = 11547. */
	int64_t sum = 0;

	for (int i = 0; i < 4; i++)
		sum += sim_random_range(random, -10000, 10000);
	return sum * deviation / 11547;
}
