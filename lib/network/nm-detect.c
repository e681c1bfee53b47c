#include "nm-detect.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "nm-detect-internal.h"
#include "osek-nm.h"

const uint8_t nod_nm_masks[NOD_NM_MASKS] = {0xFF, 0x7F, 0x3F, 0x1F, 0x0F};

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

static void begin(struct nod_nm_id *id, const struct nod_frame *frame)
{
	*id = (struct nod_nm_id){
		.id = frame->id,
		.first = {frame->data[0], frame->data[1]},
		.constant = {true, true},
		.unset = true,
		.one_length = true,
		.length = frame->length,
		.last = frame->time,
	};
}

static void note_interval(struct nod_nm_id *id, nod_time time)
{
	int64_t ms = (time.ns - id->last.ns + NOD_NS_PER_MS / 2) / NOD_NS_PER_MS;

	id->intervals[id->interval_count++ % NOD_NM_INTERVALS] =
		(uint16_t)(ms < 0 ? 0 : ms > UINT16_MAX ? UINT16_MAX : ms);
	if (id->interval_count == 2 * NOD_NM_INTERVALS)
		id->interval_count = NOD_NM_INTERVALS;
	id->last = time;
}

static void note_bytes(struct nod_nm_id *id, const struct nod_frame *frame)
{
	for (int i = 0; i < 2; i++) {
		uint8_t byte = frame->data[i];
		id->constant[i] &= byte == id->first[i];
		id->calmed[i] |= id->first[i] & ~byte & 1;
		id->bits[i] |= byte;
	}
	for (int i = 2; i < frame->length && i < 8 && id->unset; i++)
		id->unset = frame->data[i] == 0xFF;
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

/* Whether `node` is the node number of an ID, with any width of it. */
static bool names(uint8_t node, uint32_t id)
{
	for (int i = 0; i < NOD_NM_MASKS; i++)
		if ((id & nod_nm_masks[i]) == node)
			return true;
	return false;
}

/* Whether the successor a message names is heard and may be a node, too. */
static bool is_heard(const struct nod_nm_detect *detect, uint8_t node, uint32_t id)
{
	for (int i = 0; i < NOD_NM_MASKS; i++) {
		uint32_t mask = nod_nm_masks[i];
		const struct nod_nm_id *next = nod_nm_find(detect, (id & ~mask) | (node & mask));
		if (next && next->operations == next->frames)
			return true;
	}
	return false;
}

static void hand_over(struct nod_nm_id *from, const struct nod_nm_id *to)
{
	if (names(from->successor, to->id))
		from->handed++;
	else
		from->dropped++;
}

static void note_operation(struct nod_nm_detect *detect, unsigned slot, uint8_t node, uint8_t code)
{
	struct nod_nm_id *id = &detect->ids[slot];
	int16_t *holder = &detect->holder[id->id >> 8 & (NOD_NM_BLOCKS - 1)];

	if (!is_operation(code))
		return;
	id->operations++;
	if (id->operations != id->frames || (code & 0x0F) != NOD_OSEK_NM_RING)
		return;
	id->ring += !names(node, id->id);
	id->successor = node;
	if (!is_heard(detect, node, id->id))
		return;
	if (*holder >= 0)
		hand_over(&detect->ids[*holder], id);
	*holder = (int16_t)slot;
}

void nod_nm_detect_feed(struct nod_nm_detect *detect, const struct nod_frame *frame)
{
	if (frame->id & (NOD_ID_ERROR | NOD_ID_REMOTE) || frame->length < 2)
		return;
	unsigned slot = slot_of(detect, frame->id);
	struct nod_nm_id *id = &detect->ids[slot];

	if (!id->frames) {
		if (detect->count >= NOD_NM_IDS / 4 * 3)
			return;
		begin(id, frame);
		detect->used[detect->count++] = (uint16_t)slot;
	} else {
		note_interval(id, frame->time);
	}
	if (id->frames < UINT32_MAX)
		id->frames++;
	note_bytes(id, frame);
	note_operation(detect, slot, frame->data[0], frame->data[1]);
}

/* ---- what the schemes share ---- */

double nod_nm_confidence(double log_odds)
{
	double p = 1 / (1 + exp(-log_odds));

	return p < NOD_NM_SUREST ? p : NOD_NM_SUREST;
}

struct nod_nm_layout nod_nm_default_layout(enum nod_nm_scheme scheme)
{
	return (struct nod_nm_layout){
		.scheme = scheme,
		.node_byte = 0,
		.control_byte = 1,
		.partial_first = -1,
		.partial_last = -1,
		.osek_alive = NOD_OSEK_NM_ALIVE,
		.osek_ring = NOD_OSEK_NM_RING,
		.osek_limp_home = NOD_OSEK_NM_LIMP_HOME,
		.osek_sleep_indication = NOD_OSEK_NM_SLEEP_INDICATION,
		.osek_sleep_acknowledge = NOD_OSEK_NM_SLEEP_ACKNOWLEDGE,
	};
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

static int compare_u16(const void *a, const void *b)
{
	return *(const uint16_t *)a - *(const uint16_t *)b;
}

unsigned nod_nm_period_ms(const struct nod_nm_id *id)
{
	uint16_t sorted[NOD_NM_INTERVALS];
	unsigned n = id->interval_count < NOD_NM_INTERVALS ? id->interval_count : NOD_NM_INTERVALS;

	if (n < 3)
		return 0;
	memcpy(sorted, id->intervals, n * sizeof(*sorted));
	qsort(sorted, n, sizeof(*sorted), compare_u16);
	return sorted[n / 2];
}

void nod_nm_detect_result(const struct nod_nm_detect *detect, struct nod_nm_detection *result)
{
	struct nod_nm_detection found[3];

	nod_nm_detect_osek(detect, &found[0]);
	nod_nm_detect_autosar(detect, &found[1]);
	nod_nm_detect_j1939(detect, &found[2]);
	*result = (struct nod_nm_detection){.layout = nod_nm_default_layout(NOD_NM_UNKNOWN)};
	for (int i = 0; i < 3; i++)
		if (found[i].confidence > result->confidence)
			*result = found[i];
}
