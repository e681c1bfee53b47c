/* SPDX-License-Identifier: MIT */
#include "payload.h"

#include <stdlib.h>
#include <string.h>

#include "payload-learning.h"
#include "payload-take.h"

/* Roles end when more than this many of them contradict. Chosen: a counter
 * that wraps at ten contradicts a tenth, random bits half. */
#define REVIEW_AGAINST (NOD_PAYLOAD_REVIEW / 4)

/* A payload with a real change in this many of them may hold a counter that
 * did not count before: it is learned again, ever more rarely. */
#define REVIEW_BUSY (NOD_PAYLOAD_REVIEW / 4)
#define PATIENCE_MOST 4096

/* CAN FD: the bytes from 8 on. */
struct nod_payload_above {
	uint8_t bytes[56];
	bool changed;
};

void nod_payload_init(struct nod_payload *p)
{
	memset(p, 0, sizeof(*p));
	p->start = NOD_TIME_NONE;
	p->plain_length = UINT8_MAX;
	p->patience = 1;
}

void nod_payload_clear(struct nod_payload *p)
{
	free(p->learning);
	free(p->above);
	nod_payload_init(p);
}

/* ---- learning ---- */

/* Which counters are followed: of 16 bits at most, in one piece. */
static void set_counter_mask(struct nod_payload *p)
{
	bool follows = p->counter_width && p->counter_width <= 16 && !p->big_endian;

	p->counter_mask = (uint16_t)(follows ? (1u << p->counter_width) - 1 : 0);
}

static void forget_roles(struct nod_payload *p)
{
	p->counter = p->chain = p->big_endian = p->checksum = 0;
	p->checksum_kind = NOD_CHECKSUM_NONE;
	p->counter_width = 0;
	set_counter_mask(p);
}

static void learn_anew(struct nod_payload *p)
{
	p->decided = false;
	p->settled = p->counter | p->checksum;
	p->window = p->against = p->busy = 0;
	if (p->learning)
		memset(p->learning, 0, sizeof(*p->learning));
}

static void watch_counter(struct nod_payload *p, const struct nod_learned *learned)
{
	if (p->counter_width && p->counter_first == learned->counter_first)
		return;
	p->counter_low = UINT16_MAX;
	p->counter_high = p->counter_value = 0;
	p->wrapped = false;
}

static void adopt(struct nod_payload *p)
{
	struct nod_learned learned;

	nod_learning_decide(p->learning, &learned);
	watch_counter(p, &learned);
	p->counter = learned.counter;
	p->chain = learned.chain;
	p->big_endian = learned.big_endian;
	p->checksum = learned.checksum;
	p->checksum_kind = (uint8_t)learned.checksum_kind;
	p->checksum_byte = learned.checksum_byte;
	p->counter_first = learned.counter_first;
	p->counter_width = learned.counter_width;
	set_counter_mask(p);
}

/* After 8, 16, 32 and 64 frames; with earlier roles only after 64. */
static bool is_time_to_look(const struct nod_payload *p, unsigned frames)
{
	return frames == NOD_LEARNING_FRAMES ||
	       (!p->settled && frames >= NOD_LEARNING_FIRST && !(frames & (frames - 1)));
}

void nod_payload_learn(struct nod_payload *p, uint64_t before, uint64_t after,
		       const uint64_t *frames)
{
	if (!p->learning && !(p->learning = calloc(1, sizeof(*p->learning)))) {
		p->decided = p->starved = true;
		return;
	}
	struct nod_payload_learning *l = p->learning;
	l->length = p->length > 8 ? 8 : p->length;
	l->long_frame = p->length > 8;
	if (frames) {
		uint64_t now = frames[0] + frames[1] + frames[2];
		l->begun = l->frames ? l->begun : now;
		l->passed = now - l->begun + 1;
	}
	nod_learning_take(l, before, after);
	if (is_time_to_look(p, l->frames))
		adopt(p);
	if (l->frames < NOD_LEARNING_FRAMES)
		return;
	free(l);
	p->learning = NULL;
	p->decided = true;
}

/* ---- after it ---- */

void nod_payload_review(struct nod_payload *p)
{
	bool busy = p->busy >= REVIEW_BUSY && ++p->waited >= p->patience;

	if (p->against > REVIEW_AGAINST) {
		forget_roles(p);
		learn_anew(p);
	} else if (busy) {
		p->waited = 0;
		p->patience = p->patience < PATIENCE_MOST ? (uint16_t)(p->patience * 2)
							  : PATIENCE_MOST;
		learn_anew(p);
	}
	p->window = p->against = p->busy = 0;
}

/* A counter's next bit joins it when it changes for the first time together
 * with the first fall of the bit below; then perhaps the next, and so on. */
void nod_payload_grow(struct nod_payload *p, uint64_t diff, uint64_t fall)
{
	uint64_t first = fall & p->counter & ~p->fallen;
	uint64_t fresh = diff & ~(p->toggled | p->checksum | p->counter);

	while (first && fresh) {
		uint64_t near = nod_carry(first) & fresh;
		uint64_t far = nod_carry_big(first) & fresh & ~near & NOD_BYTE_LOWEST;
		unsigned next = p->counter_first + p->counter_width;
		if (p->counter_width && next < 64 && near >> next & 1)
			p->counter_width++;
		p->counter |= near | far;
		p->chain |= near | far;
		p->big_endian |= far;
		fresh &= ~(near | far);
		first = fall & (near | far);
	}
	set_counter_mask(p);
}

static uint32_t milliseconds(const struct nod_payload *p, nod_time time)
{
	int64_t ms = (time.ns - p->start.ns) / NOD_NS_PER_MS;

	return ms < 0 ? 0 : ms > UINT32_MAX ? UINT32_MAX : (uint32_t)ms;
}

void nod_payload_note_toggles(struct nod_payload *p, uint64_t real, nod_time time)
{
	uint32_t now = milliseconds(p, time);

	nod_planes_add(p->planes, NOD_PAYLOAD_PLANES, real);
	for (; real; real &= real - 1)
		p->last_ms[__builtin_ctzll(real)] = now;
}

/* ---- frames ---- */

static uint64_t bytes_mask(unsigned length)
{
	return length >= 8 ? ~UINT64_C(0) : (UINT64_C(1) << 8 * length) - 1;
}

/* A frame of another length: what both have is compared, and a checksum in
 * the last byte has moved, so roles are learned anew. */
static uint64_t take_length(struct nod_payload *p, uint64_t word, const struct nod_frame *frame)
{
	uint8_t shorter = frame->length < p->length ? frame->length : p->length;
	uint64_t diff = (word ^ p->word) & bytes_mask(shorter);

	forget_roles(p);
	learn_anew(p);
	p->length = frame->length;
	p->word = word;
	p->toggled |= diff;
	p->changed += diff != 0;
	if (diff)
		nod_payload_note_toggles(p, diff, frame->time);
	return diff;
}

static void take_above(struct nod_payload *p, const struct nod_frame *frame)
{
	size_t length = frame->length <= 64 ? frame->length - 8u : 56;
	bool first = !p->above;

	if (first && !(p->above = calloc(1, sizeof(*p->above)))) {
		p->starved = true;
		return;
	}
	if (!first && memcmp(p->above->bytes, frame->data + 8, length))
		p->above->changed = true;
	memcpy(p->above->bytes, frame->data + 8, length);
}

/* The first frame, one of another length, or one of more than 8 bytes. */
uint64_t nod_payload_take_unlike(struct nod_payload *p, const struct nod_frame *frame)
{
	uint64_t word = nod_payload_word(frame);

	if (frame->length > 8)
		take_above(p, frame);
	p->plain_length = frame->length > 8 ? UINT8_MAX : frame->length;
	if (!p->begun) {
		p->begun = true;
		p->word = word;
		p->length = frame->length;
		p->start = frame->time;
		return 0;
	}
	if (frame->length != p->length)
		return take_length(p, word, frame);
	return word == p->word ? 0 : nod_payload_take_change(p, word, frame->time, NULL);
}

/* ---- results ---- */

void nod_payload_roles(const struct nod_payload *p, struct nod_payload_roles *roles)
{
	unsigned values = p->counter_high - p->counter_low + 1u;

	*roles = (struct nod_payload_roles){
		.constant = p->begun ? ~p->toggled & bytes_mask(p->length) : 0,
		.counter = p->counter,
		.checksum = p->checksum,
		.changing = p->toggled & ~(p->counter | p->checksum),
		.checksum_kind = (enum nod_checksum_kind)p->checksum_kind,
		.checksum_byte = p->checksum_byte,
		.counter_first = p->counter_first,
		.counter_width = p->counter_width,
		.counter_modulus = p->counter_width && p->wrapped ? values : 0,
		.decided = p->decided,
		.unsure = (uint8_t)(p->changed < NOD_LEARNING_FIRST ? p->changed
								    : NOD_LEARNING_FIRST - 1),
		.above_changed = p->above && p->above->changed,
	};
	roles->constant &= ~(p->counter | p->checksum);
}

unsigned nod_payload_toggles(const struct nod_payload *p, unsigned bit)
{
	return bit < 64 ? nod_planes_count(p->planes, NOD_PAYLOAD_PLANES, bit) : 0;
}

nod_time nod_payload_last_toggle(const struct nod_payload *p, unsigned bit)
{
	if (!nod_payload_toggles(p, bit))
		return NOD_TIME_NONE;
	return (nod_time){p->start.ns + p->last_ms[bit] * NOD_NS_PER_MS};
}
