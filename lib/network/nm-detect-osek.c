/* SPDX-License-Identifier: MIT */
#include <stdio.h>
#include <string.h>

#include "nm-detect-internal.h"

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

struct ring {
	uint32_t base;
	const struct nod_nm_id *nodes[RING_MOST];
	unsigned count;
	bool closed;
	unsigned handed, all;
};

static bool is_node(const struct nod_nm_id *id)
{
	return id->operations * (uint64_t)20 >= id->frames * (uint64_t)19 && id->ring && id->handed;
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

static double weigh(const struct ring *r)
{
	unsigned dropped = r->all - r->handed;

	/* A ring that is built anew, or that somebody disturbs, drops some. */
	if (r->count < 2 || r->handed <= dropped)
		return 0;
	unsigned counted = r->handed - dropped;
	counted = counted < HANDOVERS_COUNTED ? counted : HANDOVERS_COUNTED;
	return nod_nm_confidence((r->closed ? CLOSED_RING : OPEN_RING) + PER_HANDOVER * counted);
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
bool nod_nm_is_osek_node(const struct nod_nm_detection *found, const struct nod_nm_id *id)
{
	if (id->id < found->base || id->id - found->base > 0xFF)
		return false;
	if (is_node(id) && id->base == found->base && 2 * id->handed >= id->dropped)
		return true;
	return id->operations * (uint64_t)20 >= id->frames * (uint64_t)19 && id->alive &&
	       id->alive_base == found->base;
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
		if (id->id > layout->last_id && nod_nm_is_osek_node(result, id))
			layout->last_id = id->id;
	}
	nod_nm_widen(detect, layout, false);
}

void nod_nm_detect_osek(const struct nod_nm_detect *detect, struct nod_nm_detection *result)
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
		result->nodes = r.count;
		explain(result, &r);
		lay_out(detect, result, &r);
	}
}
