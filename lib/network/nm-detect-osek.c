/* SPDX-License-Identifier: MIT */
#include <stdio.h>
#include <string.h>

#include "nm-detect-internal.h"
#include "nm-rules.h"
#include "osek-nm.h"

/* Longest ring followed: more nodes than one network carries. */
#define RING_MOST 64

/* Log-odds. A closed ring of successors hardly comes about by chance (two IDs
 * that name each other: 1 in 65536 for constant random bytes, times the
 * operation codes); messages in ring order settle it. While a ring is built anew
 * it is open. Chosen. */
#define CLOSED_RING 0.5
#define OPEN_RING (-1.5)
#define PER_HANDOVER 0.25
#define HANDOVERS_COUNTED 24

/* Ordinary messages of one period that name each other come in some order, too, but not evenly
 * spaced: TTyp is the same for all nodes (ssas-public, can-oseknm.md), and a real ring
 * measured 90 to 100 ms. Delays in percent of their mean; two messages are even more easily. */
#define EVEN_LEAST 70
#define EVEN_MOST 143
#define EVEN_LEAST_OF_TWO 85
#define EVEN_MOST_OF_TWO 118
#define UNPROVED_MOST 1.0

struct ring {
	uint32_t base;
	const struct nod_nm_id *nodes[RING_MOST];
	unsigned count;
	bool closed;
	unsigned handed, all;
};

/* ---- who hands the ring to whom ---- */

/* Exactly one of alive, ring, limp home; an acknowledgement only with an
 * indication. */
static bool is_operation(uint8_t code)
{
	uint8_t operation = code & 0x0F;

	return (operation == NOD_OSEK_NM_ALIVE || operation == NOD_OSEK_NM_RING ||
		operation == NOD_OSEK_NM_LIMP_HOME) &&
	       (code & 0xF0) != NOD_OSEK_NM_SLEEP_ACKNOWLEDGE && !(code & 0xC0);
}

/* A delay longer than this is a pause. TMax is <= 1.5 s in published sets. */
#define DELAY_MOST_MS 2500

/* Goes a little towards each delay: to the usual one, whatever single ones are. */
static void note_delay(struct nod_nm_id *id, int64_t ms)
{
	int64_t step = 1 + id->delay_ms / 16;

	if (ms < 0 || ms > DELAY_MOST_MS)
		return;
	if (!id->delay_ms)
		id->delay_ms = (uint16_t)(ms ? ms : 1);
	else if (ms > id->delay_ms + step)
		id->delay_ms = (uint16_t)(id->delay_ms + step);
	else if (ms + step < id->delay_ms)
		id->delay_ms = (uint16_t)(id->delay_ms - step);
}

static void hand_over(struct nod_nm_id *from, struct nod_nm_id *to, int16_t slot, int64_t ns)
{
	uint32_t base;
	bool named = nod_nm_is_base(to->id, from->successor, &base) && from->id - base <= 0xFF &&
		     base <= from->id;

	if (!named || (from->handed && base != from->base)) {
		from->dropped++;
		return;
	}
	from->base = base;
	from->handed++;
	from->next = slot;
	note_delay(to, ns / NOD_NS_PER_MS);
}

static void note_alive(struct nod_nm_id *id, uint8_t node)
{
	uint32_t base;

	if (!nod_nm_is_base(id->id, node, &base) || (id->alive && base != id->alive_base))
		base = UINT32_MAX;
	id->alive_base = base;
	id->alive++;
}

void nod_nm_note_operation(struct nod_nm_detect *detect, unsigned slot,
			   const struct nod_frame *frame)
{
	struct nod_nm_id *id = &detect->ids[slot];
	unsigned block = id->id >> 8 & (NOD_NM_BLOCKS - 1);
	int16_t *holder = &detect->holder[block];
	uint8_t node = frame->data[0], code = frame->data[1];
	bool itself = (id->handed && id->base + node == id->id) ||
		      (id->alive && id->alive_base + node == id->id);

	if (frame->length < 2 || !is_operation(code))
		return;
	id->operations++;
	if ((code & 0x0F) == NOD_OSEK_NM_ALIVE) {
		note_alive(id, node);
		if (nod_nm_may_ring(id) && id->alive_base != UINT32_MAX)
			*holder = -1; /* the ring is built anew: nobody dropped it */
	}
	if (!nod_nm_may_ring(id) || (code & 0x0F) != NOD_OSEK_NM_RING || itself)
		return; /* who hears nobody rings itself, beside the others' ring */
	id->ring++;
	id->successor = node;
	if (*holder == (int16_t)slot)
		id->dropped++;
	else if (*holder >= 0)
		hand_over(&detect->ids[*holder], id, (int16_t)slot,
			  nod_time_since(frame->time, detect->held[block]).ns);
	*holder = (int16_t)slot;
	detect->held[block] = frame->time;
}

/* ---- rings ---- */

static bool is_node(const struct nod_nm_id *id)
{
	return nod_nm_may_ring(id) && id->ring && id->handed;
}

static bool has(const struct ring *r, const struct nod_nm_id *id)
{
	for (unsigned i = 0; i < r->count; i++)
		if (r->nodes[i] == id)
			return true;
	return false;
}

/* Follows the ring from a node, as it was last handed on. */
static void follow(const struct nod_nm_detect *detect, const struct nod_nm_id *start,
		   struct ring *r)
{
	const struct nod_nm_id *id = start;

	*r = (struct ring){.base = start->base};
	while (r->count < RING_MOST && is_node(id) && id->base == r->base && !has(r, id)) {
		r->nodes[r->count++] = id;
		r->handed += id->handed;
		r->all += id->handed + id->dropped;
		id = &detect->ids[id->next];
	}
	r->closed = id == start && r->count >= 2;
}

/* Each message comes as long after the one before as the others. */
static bool is_even(const struct ring *r)
{
	unsigned sum = 0, least = r->count == 2 ? EVEN_LEAST_OF_TWO : EVEN_LEAST,
		 most = r->count == 2 ? EVEN_MOST_OF_TWO : EVEN_MOST;

	for (unsigned i = 0; i < r->count; i++)
		sum += r->nodes[i]->delay_ms;
	for (unsigned i = 0; i < r->count; i++)
		if (r->nodes[i]->delay_ms * 100 * r->count < least * sum ||
		    r->nodes[i]->delay_ms * 100 * r->count > most * sum)
			return false;
	return true;
}

/* One of them has said that it is alive. */
static bool is_announced(const struct ring *r)
{
	for (unsigned i = 0; i < r->count; i++)
		if (r->nodes[i]->alive && r->nodes[i]->alive_base == r->base)
			return true;
	return false;
}

static bool is_proved(const struct ring *r)
{
	return is_even(r) || is_announced(r);
}

static double weigh(const struct ring *r)
{
	unsigned dropped = r->all - r->handed;

	/* A ring that is built anew, or that somebody disturbs, drops some. */
	if (r->count < 2 || r->handed <= dropped)
		return 0;
	unsigned counted = r->handed - dropped;
	counted = counted < HANDOVERS_COUNTED ? counted : HANDOVERS_COUNTED;
	double odds = (r->closed ? CLOSED_RING : OPEN_RING) + PER_HANDOVER * counted;
	if (odds > UNPROVED_MOST && !is_proved(r))
		odds = UNPROVED_MOST;
	return nod_nm_confidence(odds);
}

static void explain(struct nod_nm_detection *result, const struct ring *r)
{
	char *text = result->reason, id[NOD_ID_TEXT];
	size_t room = sizeof(result->reason), used = 0;

	used += (size_t)snprintf(text, room, "ring ");
	for (unsigned i = 0; i < r->count && used + 80 < room; i++)
		used += (size_t)snprintf(text + used, room - used, "%s > ",
					 nod_id_print(id, r->nodes[i]->id));
	snprintf(text + used, room - used, "%s, %u of %u messages handed on in order",
		 nod_id_print(id, r->nodes[0]->id), r->handed, r->all);
}

/* A node of the ring hands it on; one that cannot join says that it is alive, and names
 * itself. */
static bool is_node_of(const struct nod_nm_detection *found, const struct nod_nm_id *id)
{
	if (id->id < found->base || id->id - found->base > 0xFF)
		return false;
	if (is_node(id) && id->base == found->base && 2 * id->handed >= id->dropped)
		return true;
	return nod_nm_may_ring(id) && id->alive && id->alive_base == found->base;
}

static void lay_out(const struct nod_nm_detect *detect, struct nod_nm_detection *result,
		    const struct ring *r)
{
	struct nod_nm_layout *layout = &result->layout;

	*layout = nod_nm_layout_of(NOD_NM_OSEK);
	layout->first_id = result->base = r->base;
	layout->last_id = r->base;
	for (unsigned i = 0; i < detect->count; i++) {
		const struct nod_nm_id *id = &detect->ids[detect->used[i]];
		if (id->id > layout->last_id && is_node_of(result, id))
			layout->last_id = id->id;
	}
	nod_nm_widen(detect, layout, false);
}

static void detect_osek(const struct nod_nm_detect *detect, struct nod_nm_detection *result)
{
	struct ring r;

	memset(result, 0, sizeof(*result));
	for (unsigned i = 0; i < detect->count; i++) {
		const struct nod_nm_id *start = &detect->ids[detect->used[i]];
		if (!is_node(start))
			continue;
		follow(detect, start, &r);
		double confidence = weigh(&r);
		if (confidence <= 0 || confidence < result->confidence ||
		    (confidence == result->confidence && r.count <= result->nodes))
			continue;
		result->confidence = confidence;
		result->proved = is_proved(&r);
		result->nodes = r.count;
		explain(result, &r);
		lay_out(detect, result, &r);
	}
}

static bool is_osek_node(const struct nod_nm_detect *detect, const struct nod_nm_detection *found,
			 const struct nod_nm_id *id)
{
	(void)detect;
	return is_node_of(found, id);
}

const struct nod_nm_rules nod_nm_rules_osek = {NOD_NM_OSEK, false, nod_osek_nm_take, detect_osek,
					       is_osek_node};
