/* SPDX-License-Identifier: MIT */
#include "switches.h"

#include "payload-learning.h"

/* Fewer changes of a bit are nobody's habit. Chosen. */
#define CHANGES_MIN 2

/* Moved fewer times, a bit alone tells little more than a value's lowest bit does: once there
 * and back, and perhaps there again. Chosen. */
#define SWITCHED_MIN 4

/* Message counters are of half a byte at most where something else stands above them (common
 * practice, no source); longer ones go on. Chosen. */
#define MESSAGE_COUNTER_BITS 4

/* More bits that move alone than this in one message: not switches, but contents that take
 * turns, or noise. Chosen. */
#define SWITCHES_MOST 4

/* At intervals that differ by less than this share, and no longer than so many seconds, a bit is
 * driven by a clock: a lamp that flashes, contents that take turns, seen once a frame. What
 * happens to a switch is not that even, and what a module tries again by its own timer mostly
 * takes longer. Chosen. */
#define EVEN 0.25
#define EVEN_MOST_S 20

/* What comes on oftener than that on average is rather a value's noise than somebody's switch or
 * a contact that has become loose in a car that stands. Chosen. */
#define RESTLESS_S 2

/* How often each bit changed. */
struct changes {
	unsigned of[64];
	uint64_t moved;
	const struct nod_bit_times *times; /* NULL: not known */
};

static struct changes changes_since(const struct nod_payload *p, const uint64_t *before)
{
	uint64_t means = p->toggled & ~(p->counter | p->checksum);
	struct changes c = {{0}, 0, NULL};

	for (unsigned bit = 0; bit < 64; bit++) {
		if (!(means >> bit & 1))
			continue;
		unsigned then = before ? nod_planes_count(before, NOD_PAYLOAD_PLANES, bit) : 0;
		c.of[bit] = nod_payload_toggles(p, bit) - then;
		c.moved |= c.of[bit] ? UINT64_C(1) << bit : 0;
	}
	return c;
}

/* Bits that moved beside one another within a byte. */
struct run {
	unsigned low, high;
};

static struct run run_of(const struct changes *c, unsigned bit)
{
	struct run run = {bit, bit};

	while (run.low % 8 && c->moved >> (run.low - 1) & 1)
		run.low--;
	while (run.high % 8 < 7 && c->moved >> (run.high + 1) & 1)
		run.high++;
	return run;
}

static unsigned run_length(const struct changes *c, unsigned bit)
{
	struct run run = run_of(c, bit);

	return run.high - run.low + 1;
}

/* They changed as often, and the last time at once: then they always did. */
static bool together(const struct nod_payload *p, const struct changes *c, unsigned a, unsigned b)
{
	return c->of[a] == c->of[b] && p->last_ms[a] == p->last_ms[b];
}

/* A state in several bits that has two values: 00 and FF, 5 and A. A value that stands between two
 * steps moves several bits at once as well where one carries over: 0F and 10, the upper one
 * unlike the rest. */
static bool is_state(const struct nod_payload *p, const struct changes *c, unsigned bit)
{
	struct run run = run_of(c, bit);
	bool top = p->word >> run.high & 1, carries = true;

	for (unsigned i = run.low; i < run.high; i++) {
		if (!together(p, c, i, run.high))
			return false;
		carries &= top != (p->word >> i & 1);
	}
	return run.high > run.low && !carries;
}

/* Bits that move with a lower one are one thing with it. */
static bool is_leader(const struct nod_payload *p, const struct changes *c, unsigned bit)
{
	for (unsigned i = 0; i < bit; i++)
		if (c->of[i] && together(p, c, i, bit))
			return false;
	return true;
}

static unsigned counter_bits_below(const struct nod_payload *p, unsigned bit)
{
	unsigned count = 0;

	while ((bit - count) % 8 && p->counter >> (bit - count - 1) & 1)
		count++;
	return count;
}

/* The bit below is of the same value: it moves, or moved earlier, more often, or counts. */
static bool goes_on_below(const struct nod_payload *p, unsigned bit)
{
	if (bit % 8 == 0 || !(p->toggled >> (bit - 1) & 1))
		return false;
	return counter_bits_below(p, bit) > MESSAGE_COUNTER_BITS ||
	       nod_payload_toggles(p, bit - 1) > nod_payload_toggles(p, bit);
}

static bool about_equal(unsigned a, unsigned b)
{
	return a <= 2 * b && b <= 2 * a;
}

/* Two neighbours that change about as often are the states of a switch; of a value, the
 * upper one changes clearly less. */
static bool is_pair(const struct changes *c, unsigned bit)
{
	struct run run = run_of(c, bit);

	return run.high == run.low + 1 && about_equal(c->of[run.low], c->of[run.high]);
}

/* Where values begin, or across the border of two bits, a pair may be a value between two steps
 * as well, unless the upper bit changes more; and anywhere if it changes a good deal less. */
static bool may_be_value(const struct changes *c, unsigned bit)
{
	struct run run = run_of(c, bit);
	unsigned lower = c->of[run.low], upper = c->of[run.high];

	return 2 * lower > 3 * upper || ((run.low % 2 || run.low % 4 == 0) && upper <= lower);
}

/* A neighbour of it moves or moved earlier, by itself and time and again: both may be of one
 * value. */
static bool has_restless_neighbour(const struct nod_payload *p, unsigned bit)
{
	uint64_t means = p->toggled & ~(p->counter | p->checksum);

	return (bit % 8 && means >> (bit - 1) & 1 &&
		nod_payload_toggles(p, bit - 1) >= SWITCHED_MIN) ||
	       (bit % 8 < 7 && means >> (bit + 1) & 1 &&
		nod_payload_toggles(p, bit + 1) >= SWITCHED_MIN);
}

bool nod_data_is_even(const struct nod_bit_times *times, unsigned bit)
{
	return times && nod_bit_times_spread(times, bit) < EVEN &&
	       nod_bit_times_mean(times, bit) <= EVEN_MOST_S;
}

static bool is_restless(const struct changes *c, unsigned bit)
{
	return c->times && nod_bit_times_mean(c->times, bit) < RESTLESS_S;
}

/* How the bit and its neighbours moved, at first sight. */
static enum nod_data_kind looks_like(const struct nod_payload *p, const struct changes *c,
				     unsigned bit)
{
	if (c->of[bit] < CHANGES_MIN)
		return NOD_DATA_STILL;
	if (nod_data_is_even(c->times, bit))
		return NOD_DATA_VALUE;
	if (is_pair(c, bit) || is_state(p, c, bit))
		return NOD_DATA_SWITCH;
	if (run_length(c, bit) > 1)
		return NOD_DATA_VALUE;
	if (!counter_bits_below(p, bit) && goes_on_below(p, bit))
		return NOD_DATA_VALUE;
	return bit % 4 ? NOD_DATA_SWITCH : NOD_DATA_LOWEST;
}

/* What else may have looked like a switch. */
static enum nod_data_kind kind_of(const struct nod_payload *p, const struct changes *c,
				  unsigned bit)
{
	enum nod_data_kind kind = looks_like(p, c, bit);

	if (kind < NOD_DATA_LOWEST)
		return kind;
	if (is_restless(c, bit))
		return NOD_DATA_LOWEST;
	if (!is_pair(c, bit) && is_state(p, c, bit))
		return kind;
	if (goes_on_below(p, run_of(c, bit).low))
		return NOD_DATA_VALUE;
	bool doubtful = is_pair(c, bit) ? may_be_value(c, bit) : has_restless_neighbour(p, bit);
	return doubtful || c->of[bit] < SWITCHED_MIN ? NOD_DATA_LOWEST : kind;
}

struct nod_data nod_data_of(const struct nod_payload *p, const uint64_t before[NOD_PAYLOAD_PLANES],
			    const struct nod_bit_times *times)
{
	struct changes c = changes_since(p, before);
	c.times = times;
	struct nod_data data = {NOD_DATA_STILL, 0, 0};
	unsigned alone = 0;

	for (unsigned bit = 0; bit < 64; bit++) {
		enum nod_data_kind kind = kind_of(p, &c, bit);
		alone += looks_like(p, &c, bit) >= NOD_DATA_LOWEST && is_leader(p, &c, bit);
		if (kind < data.kind || (kind == data.kind && c.of[bit] <= data.changes))
			continue;
		data = (struct nod_data){kind, bit, c.of[bit]};
	}
	if (alone > SWITCHES_MOST || (data.kind == NOD_DATA_STILL && p->above && c.moved))
		data.kind = NOD_DATA_VALUE;
	return data;
}

bool nod_data_has_switch(const struct nod_payload *p, const uint64_t before[NOD_PAYLOAD_PLANES],
			 uint64_t bits, unsigned most)
{
	struct changes c = changes_since(p, before);

	for (unsigned bit = 0; bit < 64; bit++)
		if (bits >> bit & 1 && c.of[bit] <= most && kind_of(p, &c, bit) >= NOD_DATA_LOWEST)
			return true;
	return false;
}
