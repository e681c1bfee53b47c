/* SPDX-License-Identifier: MIT */
/* How regularly one message comes, worked out: a bounded, evenly spread sample of the
 * intervals between its frames, and what it says.
 *
 * The sampler keeps every 2^k-th interval; when its room is full it drops
 * every second one and doubles the stride, so that the sample always covers
 * the whole time evenly and never grows. */
#ifndef NOD_PERIOD_H
#define NOD_PERIOD_H

#include <stdbool.h>
#include <stdint.h>

#include "rhythm.h"
#include "timestamp.h"

#define NOD_SAMPLER_ROOM 32

struct nod_sampler {
	uint32_t us[NOD_SAMPLER_ROOM]; /* microseconds, saturated at 2^32 - 1 */
	uint64_t offered;              /* intervals seen */
	uint32_t skip;                 /* intervals to pass over before the next is kept */
	uint8_t used;                  /* intervals kept */
	uint8_t stride;                /* log2 of how many intervals one kept one stands for */
};

void nod_sampler_keep(struct nod_sampler *sampler, int64_t interval_ns);

/* Offers one interval (>= 0). Inline: it runs for every frame. */
static inline void nod_sampler_take(struct nod_sampler *sampler, int64_t interval_ns)
{
	sampler->offered++;
	if (sampler->skip)
		sampler->skip--;
	else
		nod_sampler_keep(sampler, interval_ns);
}

/* The pace at its fastest: the interval that an eighth of the sample does not exceed, when
 * several are like it; NOD_DURATION_NONE when not. For a message that has slowed down since. */
nod_duration nod_sampler_fastest(const struct nod_sampler *sampler);

/* Takes shorter intervals out of the sample. */
void nod_sampler_forget_below(struct nod_sampler *sampler, int64_t interval_ns);

struct nod_period nod_sampler_period(const struct nod_sampler *sampler);

/* Whether there are enough intervals for a period, and whether it is surely at least so long:
 * the same, found without sorting. */
bool nod_sampler_is_enough(const struct nod_sampler *sampler);
bool nod_sampler_is_slower(const struct nod_sampler *sampler, int64_t interval_ns);

#endif
