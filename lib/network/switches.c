/* SPDX-License-Identifier: MIT */
#include "switches.h"

#include "payload-learning.h"

/* Fewer changes of a bit are nobody's habit. Chosen. */
#define CHANGES_MIN 2

/* More bits that move alone than this in one message: not switches, but contents that take
 * turns, or noise. Chosen. */
#define SWITCHES_MOST 4

/* How often each bit changed. */
struct changes {
	unsigned of[64];
	uint64_t moved;
};

static struct changes changes_since(const struct nod_payload *p, const uint64_t *before)
{
	uint64_t means = p->toggled & ~(p->counter | p->checksum);
	struct changes c = {{0}, 0};

	for (unsigned bit = 0; bit < 64; bit++) {
		if (!(means >> bit & 1))
			continue;
		unsigned then = before ? nod_planes_count(before, NOD_PAYLOAD_PLANES, bit) : 0;
		c.of[bit] = nod_payload_toggles(p, bit) - then;
		c.moved |= c.of[bit] ? UINT64_C(1) << bit : 0;
	}
	return c;
}

/* Bits that moved beside this one, within its byte, this one included. */
static unsigned run_length(const struct changes *c, unsigned bit)
{
	unsigned low = bit, high = bit;

	while (low % 8 && c->moved >> (low - 1) & 1)
		low--;
	while (high % 8 < 7 && c->moved >> (high + 1) & 1)
		high++;
	return high - low + 1;
}

static bool about_equal(unsigned a, unsigned b)
{
	return a <= 2 * b && b <= 2 * a;
}

/* Two neighbours that change about as often are the states of a switch; of a value, the
 * upper one changes clearly less. */
static bool is_pair(const struct changes *c, unsigned bit)
{
	unsigned other = bit % 8 < 7 && c->moved >> (bit + 1) & 1 ? bit + 1 : bit - 1;

	return run_length(c, bit) == 2 && about_equal(c->of[bit], c->of[other]);
}

static enum nod_data_kind kind_of(const struct nod_payload *p, const struct changes *c,
				  unsigned bit)
{
	if (c->of[bit] < CHANGES_MIN)
		return NOD_DATA_STILL;
	if (is_pair(c, bit))
		return NOD_DATA_SWITCH;
	if (run_length(c, bit) > 1)
		return NOD_DATA_VALUE;
	/* The bit below moved earlier: the same value, further down. */
	if (bit % 8 && p->toggled >> (bit - 1) & 1 &&
	    nod_payload_toggles(p, bit - 1) > nod_payload_toggles(p, bit))
		return NOD_DATA_VALUE;
	return bit % 4 ? NOD_DATA_SWITCH : NOD_DATA_LOWEST;
}

struct nod_data nod_data_of(const struct nod_payload *p, const uint64_t before[NOD_PAYLOAD_PLANES])
{
	struct changes c = changes_since(p, before);
	struct nod_data data = {NOD_DATA_STILL, 0, 0};
	unsigned alone = 0;

	for (unsigned bit = 0; bit < 64; bit++) {
		enum nod_data_kind kind = kind_of(p, &c, bit);
		alone += kind >= NOD_DATA_LOWEST;
		if (kind < data.kind || (kind == data.kind && c.of[bit] <= data.changes))
			continue;
		data = (struct nod_data){kind, bit, c.of[bit]};
	}
	if (alone > SWITCHES_MOST || (data.kind == NOD_DATA_STILL && p->above && c.moved))
		data.kind = NOD_DATA_VALUE;
	return data;
}
