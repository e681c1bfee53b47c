/* SPDX-License-Identifier: MIT */
/* Finds the bitrate of a network by listening: a frame that arrives whole was read at the
 * right rate (its checksum says so); at a wrong one there are only error reports, and with
 * adapters that report none, nothing. The network must be awake. Knows no clock and no
 * adapter: it is told what was heard. */
#ifndef NOD_BITRATE_SEARCH_H
#define NOD_BITRATE_SEARCH_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "timestamp.h"

/* bit/s, the most used first. Common practice, no source. */
#define NOD_BITRATE_USUAL_COUNT 8
extern const uint32_t nod_bitrate_usual[NOD_BITRATE_USUAL_COUNT];

/* What was heard at one rate. */
struct nod_bitrate_heard {
	uint64_t frames, errors; /* whole frames; error reports */
};

enum nod_bitrate_step {
	NOD_BITRATE_LISTEN, /* it cannot be said yet */
	NOD_BITRATE_NEXT,   /* not this one */
	NOD_BITRATE_FOUND
};

/* What that says; `over`: it was listened for as long as it is worth. */
enum nod_bitrate_step nod_bitrate_judge(struct nod_bitrate_heard heard, bool over);

/* True when a controller that says `rate` was told `wanted`: what it makes of one is off by
 * less than the 1.58 % that clocks on one network may differ (Bosch, CAN Specification 2.0,
 * 9 Oscillator Tolerance). */
bool nod_bitrate_is(uint32_t rate, uint32_t wanted);

/* Where a search is that goes through the usual rates again and again. */
struct nod_bitrate_search {
	size_t at;       /* of the rate being tried */
	unsigned rounds; /* so often all of them were tried in vain */
	nod_time since;  /* it is listened at this rate */
};

/* So long at each rate. Chosen: messages of an awake network come every 10 to 1000 ms, and
 * eight rates of it are a wait that a person bears. */
#define NOD_BITRATE_PATIENCE nod_seconds(1)

/* Goes on to the next rate, which is returned. */
uint32_t nod_bitrate_search_next(struct nod_bitrate_search *search);

#endif
