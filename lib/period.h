/* How regularly one message comes: a bounded, evenly spread sample of the
 * intervals between its frames, and what it says.
 *
 * The sampler keeps every 2^k-th interval; when its room is full it drops
 * every second one and doubles the stride, so that the sample always covers
 * the whole time evenly and never grows. */
#ifndef NOD_PERIOD_H
#define NOD_PERIOD_H

#include <stdbool.h>
#include <stdint.h>

#include "timestamp.h"

#define NOD_SAMPLER_ROOM 32

struct nod_sampler {
	uint32_t skip;	 /* intervals to pass over before the next is kept */
	uint8_t used;	 /* intervals kept */
	uint8_t stride;	 /* log2 of how many intervals one kept one stands for */
	uint64_t offered; /* intervals seen */
	uint32_t us[NOD_SAMPLER_ROOM]; /* microseconds, saturated at 2^32 - 1 */
};

enum nod_rhythm {
	NOD_RHYTHM_UNKNOWN,  /* too few intervals */
	NOD_RHYTHM_CYCLIC,   /* comes at its period */
	NOD_RHYTHM_MIXED,    /* mostly at its period, with more in between */
	NOD_RHYTHM_ON_EVENT  /* no period */
};

struct nod_period {
	enum nod_rhythm rhythm;
	nod_duration period; /* median interval; NOD_DURATION_NONE when unknown */
	nod_duration jitter; /* robust standard deviation: 1.4826 * median absolute deviation */
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

struct nod_period nod_sampler_period(const struct nod_sampler *sampler);

/* The word for a rhythm: "cyclic", "cyclic with events", "on event", "?". */
const char *nod_rhythm_name(enum nod_rhythm rhythm);

#endif
