/* SPDX-License-Identifier: MIT */
#include "nm-detect.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "nm-detect-internal.h"
#include "nm-rules.h"
#include "autosar-nm.h"

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
		.stopped = NOD_TIME_NONE,
		.looked = NOD_TIME_NONE,
		.fresh = true,
		.next = -1,
	};
}

/* A burst: so many intervals in a row that are this short; longer runs are a fast
 * period. From published sets: five at 20 ms, ten at 100 ms. */
#define SHORT_MS 110
#define BURST_LEAST 3
#define BURST_MOST 12

/* So many immediate messages may begin a talk: the range of CanNmImmediateNmTransmissions is
 * 0 to 255 (from memory), the published sets have up to ten. Chosen. */
#define IMMEDIATE_MOST 24

/* Longer than this is no period of network management (<= 1 s in published sets), but a
 * pause. Chosen. */
#define PAUSE_MS 2500

/* Where the whole network paused for no longer, nobody slept, and what comes fast then has waited
 * in an adapter. Of that time, so much is more than a second's turn. Chosen. */
#define LULL_MS 5000
#define LULL_LEAST_MS 2000

/* The control bits say who woke the network for as long as it is awake: one that appears at
 * a node's usual pace is something else. */
static void note_flips(struct nod_nm_id *id, int64_t ms, const struct nod_frame *frame)
{
	unsigned before =
		id->intervals[(id->interval_count + NOD_NM_INTERVALS - 1) % NOD_NM_INTERVALS];

	for (int i = 0; i < 2 && id->interval_count && 2 * ms <= 3 * before; i++)
		if (frame->data[i] & ~id->before[i] & NOD_AUTOSAR_NM_ACTIVE_WAKEUP &&
		    id->flips[i] < UINT8_MAX)
			id->flips[i]++;
}

static void note_interval(const struct nod_nm_detect *detect, struct nod_nm_id *id,
			  const struct nod_frame *frame)
{
	int64_t ms = (frame->time.ns - id->last.ns + NOD_NS_PER_MS / 2) / NOD_NS_PER_MS;

	if (ms > PAUSE_MS) {
		id->run = 0;
		id->fresh = true;
		id->lulled = ms <= LULL_MS &&
			     ms >= (int64_t)(detect->active - id->active) * 1000 + LULL_LEAST_MS;
		return;
	}
	ms = ms < 0 ? 0 : ms;
	note_flips(id, ms, frame);
	if (ms > 3 * SHORT_MS / 2) {
		if (!id->burst && id->fresh && !id->lulled && id->run >= BURST_LEAST &&
		    id->run <= BURST_MOST) {
			id->burst = true;
			id->burst_at = frame->time;
		}
		id->run = 0;
		id->fresh = false;
	} else if (id->run < UINT8_MAX) {
		id->run++;
	}
	if (id->fresh && ms < NOD_NM_PERIOD_LEAST_MS && id->run <= IMMEDIATE_MOST)
		return; /* they say nothing of its period */
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
		uint8_t byte = id->before[i] = frame->data[i];
		id->calmed[i] |= nod_nm_byte(id, i) & ~byte & 1;
		id->bits[i] |= byte;
	}
	id->unset &= (word | 0xFFFF) == (bits_of(frame) | 0xFFFF);
	id->one_length &= frame->length == id->length;
}

/* ---- feeding ---- */

/* From so many frames on an ID that does not look like a node of any scheme is let go. */
#define FRAMES_ENOUGH 96

/* Rings turn faster than this often, and nothing else with a node's look. Chosen. */
#define IS_FAST_MS 30

bool nod_nm_has_number(const struct nod_nm_id *id, int byte, uint32_t *base)
{
	return nod_nm_is_constant(id, byte) && nod_nm_is_base(id->id, nod_nm_byte(id, byte), base);
}

/* Asked again only now and then: an ID changes its ways seldom. */
static bool looks_like_a_node(const struct nod_nm_id *id)
{
	uint32_t base;

	if (id->frames < FRAMES_ENOUGH || id->frames % FRAMES_ENOUGH || nod_nm_may_ring(id))
		return true;
	unsigned period = nod_nm_period_ms(id);
	bool numbered = false;
	for (int i = 0; i < 2 && period >= IS_FAST_MS; i++)
		numbered |= nod_nm_has_number(id, i, &base) && nod_nm_is_round(base);
	bool bare = period >= NOD_NM_BARE_PERIOD_LEAST_MS &&
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
	nod_nm_look_at_stops(detect, time);
}

void nod_nm_detect_forget_bursts(struct nod_nm_detect *detect, nod_time from)
{
	for (unsigned i = 0; i < detect->count; i++) {
		struct nod_nm_id *id = &detect->ids[detect->used[i]];
		id->burst &= id->burst_at.ns < from.ns;
		id->fresh = false;
	}
}

void nod_nm_detect_ask_last(struct nod_nm_detect *detect, nod_nm_last_fn *last_of,
			    const void *context)
{
	detect->last_of = last_of;
	detect->last_context = context;
}

static void take(struct nod_nm_detect *detect, unsigned slot, const struct nod_frame *frame)
{
	struct nod_nm_id *id = &detect->ids[slot];

	if (id->frames)
		note_interval(detect, id, frame);
	if (id->frames < UINT32_MAX)
		id->frames++;
	id->last = frame->time;
	id->active = detect->active;
	note_bytes(id, frame);
	nod_nm_note_operation(detect, slot, frame);
	id->over = frame->length < 2 || !looks_like_a_node(id);
}

bool nod_nm_detect_feed(struct nod_nm_detect *detect, const struct nod_frame *frame)
{
	if (frame->id & NOD_ID_ERROR)
		return true;
	nod_nm_detect_second(detect, frame->time);
	if (frame->id & NOD_ID_REMOTE)
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
	id->last = frame->time;
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
	const struct nod_nm_rules *rules;

	keep_periods(detect);
	*result = (struct nod_nm_detection){.layout = nod_nm_layout_of(NOD_NM_UNKNOWN)};
	for (unsigned i = 0; (rules = nod_nm_rules_at(i)); i++) {
		struct nod_nm_detection found;
		rules->detect(detect, &found);
		if (found.confidence > result->confidence)
			*result = found;
	}
}

bool nod_nm_detect_is_node(const struct nod_nm_detect *detect, const struct nod_nm_detection *found,
			   uint32_t id)
{
	const struct nod_nm_id *known = nod_nm_find(detect, id);

	if (!known || known->over || id < found->layout.first_id || id > found->layout.last_id)
		return false;
	const struct nod_nm_rules *rules = nod_nm_rules_of(found->layout.scheme);
	return rules && rules->is_node && rules->is_node(detect, found, known);
}
