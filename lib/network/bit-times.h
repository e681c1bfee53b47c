/* SPDX-License-Identifier: MIT */
/* When the bits of one message moved. What a clock drives (a lamp that flashes, contents that take
 * turns) comes on at even intervals, what happens does not. And where bits of several messages
 * move together, the first is where it happens, the others repeat it. */
#ifndef NOD_BIT_TIMES_H
#define NOD_BIT_TIMES_H

#include <stdbool.h>
#include <stdint.h>

#include "timestamp.h"

/* So many of the last moves are kept. Chosen: that so many of one message fall just after
 * another's by chance, each one time in ten, is one case in ten thousand. */
#define NOD_BIT_MOVES_KEPT 4

/* All zero: nothing moved yet. Times are in milliseconds after `start`. */
struct nod_bit_times {
	nod_time start;
	uint32_t moved_ms[NOD_BIT_MOVES_KEPT][64]; /* by number modulo NOD_BIT_MOVES_KEPT */
	uint32_t rose_ms[64];                      /* the last time */
	float sum_s[64], squares_s2[64];           /* of the intervals between rises */
	uint16_t moves[64], rises[64];             /* as many or more; bounces count once */
};

/* These bits moved at `time`, to what they are in `word`. */
void nod_bit_times_take(struct nod_bit_times *times, uint64_t moved, uint64_t word, nod_time time);

/* The mean interval at which a bit rose, s, and the intervals' standard deviation as a share
 * of it. NAN: it rose too seldom to tell. */
double nod_bit_times_mean(const struct nod_bit_times *times, unsigned bit);
double nod_bit_times_spread(const struct nod_bit_times *times, unsigned bit);

/* True when each of the last moves of bit `b` came within `within_ms` after one of bit `a`, and
 * none of them before it. */
bool nod_bit_times_follow(const struct nod_bit_times *of_a, unsigned a,
			  const struct nod_bit_times *of_b, unsigned b, int64_t within_ms);

#endif
