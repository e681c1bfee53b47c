/* SPDX-License-Identifier: MIT */
#include "nm-detect.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "nm-detect-internal.h"
#include "osek-nm.h"

struct nod_nm_detect *nod_nm_detect_new(void)
{
	struct nod_nm_detect *detect = calloc(1, sizeof(*detect));

	for (int i = 0; detect && i < NOD_NM_BLOCKS; i++)
		detect->holder[i] = -1;
	return detect;
}

void nod_nm_detect_free(struct nod_nm_detect *detect)
{
	free(detect);
}

/* ---- the IDs ---- */

static unsigned slot_of(const struct nod_nm_detect *detect, uint32_t id)
{
	unsigned slot = (id * UINT32_C(2654435761)) >> 16 & (NOD_NM_IDS - 1);

	while (detect->ids[slot].frames && detect->ids[slot].id != id)
		slot = (slot + 1) & (NOD_NM_IDS - 1);
	return slot;
}

const struct nod_nm_id *nod_nm_find(const struct nod_nm_detect *detect, uint32_t id)
{
	const struct nod_nm_id *found = &detect->ids[slot_of(detect, id)];

	return found->frames ? found : NULL;
}

/* The bits of the first eight bytes that the frame has. */
static uint64_t bits_of(const struct nod_frame *frame)
{
	return frame->length < 8 ? (UINT64_C(1) << 8 * frame->length) - 1 : UINT64_MAX;
}

static uint64_t word_of(const struct nod_frame *frame)
{
	uint64_t word = 0;

	for (int i = 0; i < 8; i++) /* a compiler makes one load of it */
		word |= (uint64_t)frame->data[i] << 8 * i;
	return word & bits_of(frame);
}

static void begin(struct nod_nm_id *id, const struct nod_frame *frame)
{
	*id = (struct nod_nm_id){
		.id = frame->id,
		.word = word_of(frame),
		.unset = true,
		.one_length = true,
		.length = frame->length,
		.last = frame->time,
		.next = -1,
	};
}

/* A burst: so many intervals in a row that are this short; longer runs are a fast
 * period. From published sets: five at 20 ms, ten at 100 ms. */
#define SHORT_MS 110
#define BURST_LEAST 3
#define BURST_MOST 12

/* Longer than this is no period of network management (<= 1 s in published sets), but a
 * pause. Chosen. */
#define PAUSE_MS 2500

/* A pause during which the network was busy for so many seconds: it stopped by itself. */
#define STOP_SECONDS 3

static void note_pause(const struct nod_nm_detect *detect, struct nod_nm_id *id)
{
	if (detect->active - id->active < STOP_SECONDS)
		return;
	id->stops = true;
	id->stopped = id->last;
}

static void note_interval(const struct nod_nm_detect *detect, struct nod_nm_id *id, nod_time time)
{
	int64_t ms = (time.ns - id->last.ns + NOD_NS_PER_MS / 2) / NOD_NS_PER_MS;

	if (ms > PAUSE_MS) {
		note_pause(detect, id);
		id->run = 0;
		return;
	}
	ms = ms < 0 ? 0 : ms;
	if (ms > 3 * SHORT_MS / 2) {
		id->burst |= id->run >= BURST_LEAST && id->run <= BURST_MOST;
		id->run = 0;
	} else if (id->run < UINT8_MAX) {
		id->run++;
	}
	id->period_known = false;
	id->intervals[id->interval_count++ % NOD_NM_INTERVALS] = (uint16_t)ms;
	if (id->interval_count == 2 * NOD_NM_INTERVALS)
		id->interval_count = NOD_NM_INTERVALS;
}

static void note_bytes(struct nod_nm_id *id, const struct nod_frame *frame)
{
	uint64_t word = word_of(frame);

	id->changed |= id->word ^ word;
	for (int i = 0; i < 2; i++) {
		uint8_t byte = frame->data[i];
		id->calmed[i] |= nod_nm_byte(id, i) & ~byte & 1;
		id->bits[i] |= byte;
	}
	id->unset &= (word | 0xFFFF) == (bits_of(frame) | 0xFFFF);
	id->one_length &= frame->length == id->length;
}

/* ---- OSEK: who hands the ring to whom ---- */

/* Exactly one of alive, ring, limp home; an acknowledgement only with an
 * indication. */
static bool is_operation(uint8_t code)
{
	uint8_t operation = code & 0x0F;

	return (operation == NOD_OSEK_NM_ALIVE || operation == NOD_OSEK_NM_RING ||
		operation == NOD_OSEK_NM_LIMP_HOME) &&
	       (code & 0xF0) != NOD_OSEK_NM_SLEEP_ACKNOWLEDGE && !(code & 0xC0);
}

static void hand_over(struct nod_nm_detect *detect, struct nod_nm_id *from, int16_t to)
{
	uint32_t base;
	bool named = nod_nm_is_base(detect->ids[to].id, from->successor, &base) &&
		     from->id - base <= 0xFF && base <= from->id;

	if (!named || (from->handed && base != from->base)) {
		from->dropped++;
		return;
	}
	from->base = base;
	from->handed++;
	from->next = to;
}

static void note_alive(struct nod_nm_id *id, uint8_t node)
{
	uint32_t base;

	if (!nod_nm_is_base(id->id, node, &base) || (id->alive && base != id->alive_base))
		base = UINT32_MAX;
	id->alive_base = base;
	id->alive++;
}

/* Whether the ring may go through it: few other messages have such codes throughout. */
static bool may_ring(const struct nod_nm_id *id)
{
	return (uint64_t)id->operations * 20 >= (uint64_t)id->frames * 19;
}

static void note_operation(struct nod_nm_detect *detect, unsigned slot, uint8_t node, uint8_t code)
{
	struct nod_nm_id *id = &detect->ids[slot];
	int16_t *holder = &detect->holder[id->id >> 8 & (NOD_NM_BLOCKS - 1)];
	bool itself = (id->handed && id->base + node == id->id) ||
		      (id->alive && id->alive_base + node == id->id);

	if (!is_operation(code))
		return;
	id->operations++;
	if ((code & 0x0F) == NOD_OSEK_NM_ALIVE) {
		note_alive(id, node);
		if (may_ring(id) && id->alive_base != UINT32_MAX)
			*holder = -1; /* the ring is built anew: nobody dropped it */
	}
	if (!may_ring(id) || (code & 0x0F) != NOD_OSEK_NM_RING || itself)
		return; /* who hears nobody rings itself, beside the others' ring */
	id->ring++;
	id->successor = node;
	if (*holder == (int16_t)slot)
		id->dropped++;
	else if (*holder >= 0)
		hand_over(detect, &detect->ids[*holder], (int16_t)slot);
	*holder = (int16_t)slot;
}

/* ---- feeding ---- */

/* From so many frames on an ID that does not look like a node of any scheme is let go. */
#define FRAMES_ENOUGH 96

/* Rings turn faster than this often, and nothing else with a node's look. Chosen. */
#define IS_FAST_MS 30

static bool has_number(const struct nod_nm_id *id, int byte)
{
	uint32_t base;

	return nod_nm_is_constant(id, byte) && nod_nm_is_base(id->id, nod_nm_byte(id, byte), &base);
}

/* Asked again only now and then: an ID changes its ways seldom. */
static bool looks_like_a_node(const struct nod_nm_id *id)
{
	if (id->frames < FRAMES_ENOUGH || id->frames % FRAMES_ENOUGH || may_ring(id))
		return true;
	unsigned period = nod_nm_period_ms(id);
	bool numbered = period >= IS_FAST_MS && (has_number(id, 0) || has_number(id, 1));
	bool bare = period >= 2 * NOD_NM_PERIOD_LEAST_MS &&
		    nod_nm_bytes_changed(id) <= NOD_NM_BARE_CHANGES;
	return id->one_length && (numbered || bare);
}

void nod_nm_detect_second(struct nod_nm_detect *detect, nod_time time)
{
	if (detect->active && time.ns < detect->second.ns + NOD_NS_PER_S &&
	    time.ns >= detect->second.ns)
		return;
	detect->second.ns = time.ns - time.ns % NOD_NS_PER_S;
	detect->active++;
}

static void take(struct nod_nm_detect *detect, unsigned slot, const struct nod_frame *frame)
{
	struct nod_nm_id *id = &detect->ids[slot];

	if (id->frames)
		note_interval(detect, id, frame->time);
	if (id->frames < UINT32_MAX)
		id->frames++;
	id->last = frame->time;
	id->active = detect->active;
	note_bytes(id, frame);
	note_operation(detect, slot, frame->data[0], frame->data[1]);
	id->over = !looks_like_a_node(id);
}

bool nod_nm_detect_feed(struct nod_nm_detect *detect, const struct nod_frame *frame)
{
	if (frame->id & NOD_ID_ERROR)
		return true;
	nod_nm_detect_second(detect, frame->time);
	if (frame->id & NOD_ID_REMOTE || frame->length < 2)
		return true;
	unsigned slot = slot_of(detect, frame->id);
	struct nod_nm_id *id = &detect->ids[slot];
	if (!id->frames) {
		if (detect->count >= NOD_NM_IDS / 4 * 3)
			return false;
		begin(id, frame);
		detect->used[detect->count++] = (uint16_t)slot;
	}
	if (!id->over)
		take(detect, slot, frame);
	return !id->over;
}

/* ---- what the schemes share ---- */

double nod_nm_confidence(double log_odds)
{
	double p = 1 / (1 + exp(-log_odds));

	return p < NOD_NM_SUREST ? p : NOD_NM_SUREST;
}

struct nod_nm_layout nod_nm_layout_of(enum nod_nm_scheme scheme)
{
	struct nod_nm_layout layout = nod_nm_layout_default();

	layout.scheme = scheme;
	return layout;
}

void nod_nm_widen(const struct nod_nm_detect *detect, struct nod_nm_layout *layout, bool down)
{
	uint32_t mask = 0x3F;

	while (mask < 0xFF && (layout->first_id ^ layout->last_id) & ~mask)
		mask = mask << 1 | 1;
	uint32_t lowest = layout->first_id & ~mask, highest = layout->last_id | mask;
	while (layout->last_id < highest && !nod_nm_find(detect, layout->last_id + 1))
		layout->last_id++;
	while (down && layout->first_id > lowest && !nod_nm_find(detect, layout->first_id - 1))
		layout->first_id--;
}

unsigned nod_nm_ids_between(const struct nod_nm_detect *detect, uint32_t first, uint32_t last)
{
	unsigned count = 0;

	for (unsigned i = 0; i < detect->count; i++) {
		uint32_t id = detect->ids[detect->used[i]].id;
		count += id >= first && id <= last;
	}
	return count;
}

/* Few and short: qsort() would cost several times as much. */
static void sort_into(uint16_t *sorted, const uint16_t *values, unsigned count)
{
	for (unsigned i = 0; i < count; i++) {
		unsigned at = i;
		for (; at > 0 && sorted[at - 1] > values[i]; at--)
			sorted[at] = sorted[at - 1];
		sorted[at] = values[i];
	}
}

/* The middle of those that are not much shorter than the second longest: short ones are a
 * burst's, and a single long one is a lost frame. */
static uint16_t work_out_period(const struct nod_nm_id *id)
{
	uint16_t sorted[NOD_NM_INTERVALS];
	unsigned n = id->interval_count < NOD_NM_INTERVALS ? id->interval_count : NOD_NM_INTERVALS;
	unsigned first = 0;

	if (n < 3)
		return 0;
	sort_into(sorted, id->intervals, n);
	while (first + 2 < n && sorted[first] * 10u < sorted[n - 2] * 6u)
		first++;
	return sorted[(first + n - 1) / 2];
}

unsigned nod_nm_period_ms(const struct nod_nm_id *id)
{
	return id->period_known ? id->period_ms : work_out_period(id);
}

/* Every ID is held against many others: once for all. */
static void keep_periods(struct nod_nm_detect *detect)
{
	for (unsigned i = 0; i < detect->count; i++) {
		struct nod_nm_id *id = &detect->ids[detect->used[i]];
		if (id->over || id->period_known)
			continue;
		id->period_ms = work_out_period(id);
		id->period_known = true;
	}
}

void nod_nm_detect_result(struct nod_nm_detect *detect, struct nod_nm_detection *result)
{
	struct nod_nm_detection found[3];

	keep_periods(detect);
	nod_nm_detect_osek(detect, &found[0]);
	nod_nm_detect_autosar(detect, &found[1]);
	nod_nm_detect_j1939(detect, &found[2]);
	*result = (struct nod_nm_detection){.layout = nod_nm_layout_of(NOD_NM_UNKNOWN)};
	for (int i = 0; i < 3; i++)
		if (found[i].confidence > result->confidence)
			*result = found[i];
}

bool nod_nm_detect_is_node(const struct nod_nm_detect *detect, const struct nod_nm_detection *found,
			   uint32_t id)
{
	const struct nod_nm_id *known = nod_nm_find(detect, id);

	if (!known || known->over || id < found->layout.first_id || id > found->layout.last_id)
		return false;
	return found->layout.scheme == NOD_NM_OSEK
		       ? nod_nm_is_osek_node(found, known)
		       : found->layout.scheme == NOD_NM_AUTOSAR &&
				 nod_nm_is_autosar_node(detect, found, known);
}
