/* SPDX-License-Identifier: MIT */
/* Random numbers of the programs here that invent cars themselves. */
#ifndef UNIFORM_H
#define UNIFORM_H

#include <stdint.h>

/* splitmix64, public domain; 0..1 */
static inline double uniform(uint64_t *state)
{
	*state += 0x9E3779B97F4A7C15ULL;
	uint64_t z = *state;
	z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9ULL;
	z = (z ^ (z >> 27)) * 0x94D049BB133111EBULL;
	return (double)((z ^ (z >> 31)) >> 11) / 9007199254740992.0;
}

#endif
