/* SPDX-License-Identifier: MIT */
#include "bit-times.h"

#include <math.h>

/* A contact that closes bounces for less than this: a move so soon after one is the same. Common
 * practice, no source (some milliseconds; a worn one some tenths of a second). */
#define BOUNCE_MS 250

/* Rises from which a mean and a spread follow. Chosen: three intervals. */
#define RISES_MIN 4

static uint32_t since_start(struct nod_bit_times *t, nod_time time)
{
	if (!t->start.ns)
		t->start.ns = time.ns - NOD_NS_PER_MS; /* no move is at 0 */
	int64_t ms = (time.ns - t->start.ns) / NOD_NS_PER_MS;

	return ms < 1 ? 1 : ms > UINT32_MAX ? UINT32_MAX : (uint32_t)ms;
}

static uint32_t last_move(const struct nod_bit_times *t, unsigned bit)
{
	return t->moved_ms[(t->moves[bit] + NOD_BIT_MOVES_KEPT - 1u) % NOD_BIT_MOVES_KEPT][bit];
}

static void rise(struct nod_bit_times *t, unsigned bit, uint32_t now)
{
	float interval = (float)(now - t->rose_ms[bit]) / 1000;

	if (t->rises[bit]) {
		t->sum_s[bit] += interval;
		t->squares_s2[bit] += interval * interval;
	}
	t->rose_ms[bit] = now;
	t->rises[bit]++;
}

static void move(struct nod_bit_times *t, unsigned bit, bool up, uint32_t now)
{
	if (!t->moves[bit] || now - last_move(t, bit) >= BOUNCE_MS) {
		t->moved_ms[t->moves[bit] % NOD_BIT_MOVES_KEPT][bit] = now;
		t->moves[bit]++;
	}
	if (up && t->rises[bit] < UINT16_MAX &&
	    (!t->rises[bit] || now - t->rose_ms[bit] >= BOUNCE_MS))
		rise(t, bit, now);
}

void nod_bit_times_take(struct nod_bit_times *t, uint64_t moved, uint64_t word, nod_time time)
{
	uint32_t now = since_start(t, time);

	for (; moved; moved &= moved - 1) {
		unsigned bit = (unsigned)__builtin_ctzll(moved);
		move(t, bit, word >> bit & 1, now);
	}
}

double nod_bit_times_mean(const struct nod_bit_times *t, unsigned bit)
{
	if (t->rises[bit] < RISES_MIN)
		return NAN;
	return (double)t->sum_s[bit] / (t->rises[bit] - 1);
}

double nod_bit_times_spread(const struct nod_bit_times *t, unsigned bit)
{
	double mean = nod_bit_times_mean(t, bit);
	double square = (double)t->squares_s2[bit] / (t->rises[bit] - 1);

	return isnan(mean) ? NAN : sqrt(fmax(0, square - mean * mean)) / mean;
}

/* The later of the first bit's moves that is not after this one, ms ago; -1: none is kept. */
static int64_t ago(const struct nod_bit_times *of, unsigned bit, int64_t time_ns)
{
	int64_t best = -1;

	for (unsigned i = 0; i < NOD_BIT_MOVES_KEPT; i++) {
		int64_t at = of->start.ns + of->moved_ms[i][bit] * (int64_t)NOD_NS_PER_MS;
		int64_t ms = (time_ns - at) / NOD_NS_PER_MS;
		if (at <= time_ns && (best < 0 || ms < best))
			best = ms;
	}
	return best;
}

bool nod_bit_times_follow(const struct nod_bit_times *of_a, unsigned a,
			  const struct nod_bit_times *of_b, unsigned b, int64_t within_ms)
{
	if (of_a->moves[a] < NOD_BIT_MOVES_KEPT || of_b->moves[b] < NOD_BIT_MOVES_KEPT)
		return false;
	for (unsigned i = 0; i < NOD_BIT_MOVES_KEPT; i++) {
		int64_t at = of_b->start.ns + of_b->moved_ms[i][b] * (int64_t)NOD_NS_PER_MS;
		int64_t ms = ago(of_a, a, at);
		if (ms < 0 || ms > within_ms)
			return false;
	}
	return true;
}
