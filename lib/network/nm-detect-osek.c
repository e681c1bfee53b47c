#include <stdio.h>
#include <string.h>

#include "nm-detect-internal.h"

/* Longest ring followed: more nodes than one network carries. */
#define RING_MOST 64

/* Hand-overs that a ring without a fault may drop: a node joins or leaves. */
#define DROPPED_SHARE 0.25

/* Log-odds. A closed ring of constant successors hardly comes about by chance
 * (two IDs that name each other: 1 in 65536 for constant random bytes, times
 * the operation codes); messages in ring order settle it. Chosen. */
#define CLOSED_RING 0.5
#define PER_HANDOVER 0.25
#define HANDOVERS_COUNTED 24

static bool is_node(const struct nod_nm_id *id)
{
	return id && id->operations == id->frames && id->ring;
}

/* Follows the successors from a node, with a width of the node number. Returns
 * the number of nodes when it comes back to the start, else 0. */
static unsigned follow(const struct nod_nm_detect *detect, const struct nod_nm_id *start,
		       uint8_t mask, const struct nod_nm_id *ring[RING_MOST])
{
	const struct nod_nm_id *id = start;
	unsigned count = 0;

	while (count < RING_MOST) {
		if (!is_node(id) || id->successor > mask)
			return 0;
		ring[count++] = id;
		id = nod_nm_find(detect, (id->id & ~(uint32_t)mask) | id->successor);
		if (id == start)
			return count >= 2 ? count : 0;
	}
	return 0;
}

static double weigh(const struct nod_nm_id *const ring[], unsigned count, unsigned *handed,
		    unsigned *all)
{
	*handed = *all = 0;
	for (unsigned i = 0; i < count; i++) {
		*handed += ring[i]->handed;
		*all += ring[i]->handed + ring[i]->dropped;
	}
	if (!*all || *handed < *all * (1 - DROPPED_SHARE))
		return 0;
	return nod_nm_confidence(CLOSED_RING +
				 PER_HANDOVER * (*handed < HANDOVERS_COUNTED ? *handed
									    : HANDOVERS_COUNTED));
}

static void explain(struct nod_nm_detection *result, const struct nod_nm_id *const ring[],
		    unsigned handed, unsigned all)
{
	char *text = result->reason, id[NOD_ID_TEXT];
	size_t room = sizeof(result->reason), used = 0;

	used += (size_t)snprintf(text, room, "ring ");
	for (unsigned i = 0; i < result->nodes && used + 80 < room; i++)
		used += (size_t)snprintf(text + used, room - used, "%s > ",
					 nod_id_print(id, ring[i]->id));
	snprintf(text + used, room - used, "%s, %u of %u messages handed on in order",
		 nod_id_print(id, ring[0]->id), handed, all);
}

/* Alive and limp-home messages come from nodes that are not in the ring. */
static bool is_outside_node(const struct nod_nm_id *id, uint32_t base, uint8_t mask)
{
	return (id->id & ~(uint32_t)mask) == base && id->operations == id->frames;
}

static void lay_out(const struct nod_nm_detect *detect, struct nod_nm_detection *result,
		    uint32_t base, uint8_t mask)
{
	struct nod_nm_layout *layout = &result->layout;

	*layout = nod_nm_default_layout(NOD_NM_OSEK);
	layout->first_id = layout->last_id = base;
	for (unsigned i = 0; i < detect->count; i++) {
		const struct nod_nm_id *id = &detect->ids[detect->used[i]];
		if (is_outside_node(id, base, mask) && id->id > layout->last_id)
			layout->last_id = id->id;
	}
	nod_nm_widen(detect, layout, false);
}

void nod_nm_detect_osek(const struct nod_nm_detect *detect, struct nod_nm_detection *result)
{
	const struct nod_nm_id *ring[RING_MOST];
	unsigned handed = 0, all = 0;

	memset(result, 0, sizeof(*result));
	for (unsigned i = 0; i < detect->count; i++)
		for (int m = 0; m < NOD_NM_MASKS; m++) {
			const struct nod_nm_id *start = &detect->ids[detect->used[i]];
			unsigned count = follow(detect, start, nod_nm_masks[m], ring);
			double confidence = count ? weigh(ring, count, &handed, &all) : 0;
			if (confidence <= result->confidence)
				continue;
			result->confidence = confidence;
			result->nodes = count;
			explain(result, ring, handed, all);
			lay_out(detect, result, start->id & ~(uint32_t)nod_nm_masks[m],
				nod_nm_masks[m]);
		}
}
