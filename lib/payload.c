#include "payload.h"

#include <endian.h>
#include <stdlib.h>
#include <string.h>

#include "payload-learning.h"

/* Changed frames between two reviews of the roles. */
#define REVIEW_FRAMES 64

/* Roles end when more than this many of them contradict. Chosen: a counter
 * that wraps at ten contradicts a tenth, random bits half. */
#define REVIEW_AGAINST (REVIEW_FRAMES / 4)

/* A payload with a real change in this many of them may hold a counter that
 * did not count before: it is learned again, ever more rarely. */
#define REVIEW_BUSY (REVIEW_FRAMES / 4)
#define PATIENCE_MOST 4096

/* Kept out of the way of the many frames that do not need it. */
#define RARE __attribute__((noinline))

/* CAN FD: the bytes from 8 on. */
struct nod_payload_above {
	uint8_t bytes[56];
	bool changed;
};

void nod_payload_init(struct nod_payload *p)
{
	memset(p, 0, sizeof(*p));
	p->start = NOD_TIME_NONE;
	p->patience = 1;
}

void nod_payload_clear(struct nod_payload *p)
{
	free(p->learning);
	free(p->above);
	nod_payload_init(p);
}

/* ---- learning ---- */

static void forget_roles(struct nod_payload *p)
{
	p->counter = p->chain = p->big_endian = p->checksum = 0;
	p->checksum_kind = NOD_CHECKSUM_NONE;
	p->counter_width = 0;
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
}

/* After 8, 16, 32 and 64 frames; with earlier roles only after 64. */
static bool is_time_to_look(const struct nod_payload *p, unsigned frames)
{
	return frames == NOD_LEARNING_FRAMES ||
	       (!p->settled && frames >= NOD_LEARNING_FIRST && !(frames & (frames - 1)));
}

static RARE void learn(struct nod_payload *p, uint64_t before, uint64_t after)
{
	if (!p->learning && !(p->learning = calloc(1, sizeof(*p->learning)))) {
		p->decided = p->starved = true;
		return;
	}
	struct nod_payload_learning *l = p->learning;
	l->length = p->length > 8 ? 8 : p->length;
	l->long_frame = p->length > 8;
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

static uint64_t carries(const struct nod_payload *p, uint64_t fall)
{
	return (nod_carry(fall) & ~p->big_endian) | (nod_carry_big(fall) & p->big_endian);
}

static bool contradicts(const struct nod_payload *p, uint64_t diff, uint64_t fall)
{
	uint64_t odd = (diff ^ carries(p, fall)) & p->chain;
	uint64_t still = ~diff & p->counter & ~p->chain;
	bool alone = p->length <= 8 && diff && !(diff & ~p->checksum);

	return odd || still || alone;
}

static RARE void review(struct nod_payload *p)
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
static RARE void grow(struct nod_payload *p, uint64_t diff, uint64_t fall)
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
}

/* The same steps whether it has a counter to follow or not: messages of either
 * kind come mixed, so a branch would be guessed wrong often. */
static void follow_counter(struct nod_payload *p, uint64_t word)
{
	unsigned width = p->counter_width;
	bool follows = (width - 1 < 16) & !p->big_endian;
	uint64_t mask = (UINT64_C(1) << (width & 31)) - 1;
	uint16_t value = (uint16_t)(word >> (p->counter_first & 63) & mask);

	bool lower = follows & (value < p->counter_low);
	value = follows ? value : p->counter_value;
	p->wrapped |= value < p->counter_value;
	p->counter_value = value;
	p->counter_low = lower ? value : p->counter_low;
	p->counter_high = value > p->counter_high ? value : p->counter_high;
}

static uint32_t milliseconds(const struct nod_payload *p, nod_time time)
{
	int64_t ms = (time.ns - p->start.ns) / NOD_NS_PER_MS;

	return ms < 0 ? 0 : ms > UINT32_MAX ? UINT32_MAX : (uint32_t)ms;
}

static void note_toggles(struct nod_payload *p, uint64_t real, nod_time time)
{
	uint32_t now = milliseconds(p, time);

	nod_planes_add(p->planes, NOD_PAYLOAD_PLANES, real);
	for (; real; real &= real - 1)
		p->last_ms[__builtin_ctzll(real)] = now;
}

/* ---- frames ---- */

static uint64_t take_change(struct nod_payload *p, uint64_t word, nod_time time)
{
	uint64_t diff = word ^ p->word, fall = p->word & ~word;

	p->changed++;
	if (!p->decided) {
		learn(p, p->word, word);
	} else {
		p->against += contradicts(p, diff, fall);
		if (diff & ~(p->counter | p->checksum))
			p->busy++;
		if (++p->window == REVIEW_FRAMES)
			review(p);
	}
	if (p->counter) {
		if (fall & p->counter & ~p->fallen)
			grow(p, diff, fall);
		follow_counter(p, word);
	}
	p->word = word;
	p->toggled |= diff;
	p->fallen |= fall;
	uint64_t real = diff & ~(p->counter | p->checksum);
	if (real)
		note_toggles(p, real, time);
	return real;
}

static uint64_t bytes_mask(unsigned length)
{
	return length >= 8 ? ~UINT64_C(0) : (UINT64_C(1) << 8 * length) - 1;
}

/* A frame of another length: what both have is compared, and a checksum in
 * the last byte has moved, so roles are learned anew. */
static RARE uint64_t take_length(struct nod_payload *p, uint64_t word, const struct nod_frame *frame)
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
		note_toggles(p, diff, frame->time);
	return diff;
}

static RARE void take_above(struct nod_payload *p, const struct nod_frame *frame)
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

uint64_t nod_payload_take(struct nod_payload *p, const struct nod_frame *frame)
{
	uint64_t word;

	if (frame->id & (NOD_ID_REMOTE | NOD_ID_ERROR))
		return 0;
	memcpy(&word, frame->data, sizeof(word));
	word = le64toh(word);
	if (frame->length > 8)
		take_above(p, frame);
	if (!p->frames++) {
		p->word = word;
		p->length = frame->length;
		p->start = frame->time;
		return 0;
	}
	if (frame->length != p->length)
		return take_length(p, word, frame);
	return word == p->word ? 0 : take_change(p, word, frame->time);
}

/* ---- results ---- */

void nod_payload_roles(const struct nod_payload *p, struct nod_payload_roles *roles)
{
	unsigned values = p->counter_high - p->counter_low + 1u;

	*roles = (struct nod_payload_roles){
		.constant = p->frames ? ~p->toggled & bytes_mask(p->length) : 0,
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
