#include <stdio.h>
#include <string.h>

#include "autosar-nm.h"
#include "nm-detect-internal.h"

/* Frames of an ID before its bytes can be called constant. */
#define FRAMES_LEAST 3

/* No published cycle is shorter than 100 ms apart from the first few messages
 * (20 ms); see the timer sets of published example configurations: 500, 1000 ms. */
#define PERIOD_LEAST_MS 50

/* Periods are the same when they differ by less than this share: clocks of
 * control units and a busy network. Chosen. */
#define PERIOD_SHARE 8

/* Log-odds, chosen: an ID that is something else carries its own low byte as a
 * constant about once in 256 (3 after allowing for the several positions and
 * masks tried); the others say that several such IDs belong together. */
#define PRIOR (-5.0)
#define PER_NODE 3.0
#define NODE_ZERO 1.0 /* instead: zero bytes are common */
#define SAME_PERIOD 2.0
#define OTHER_PERIOD (-2.0)
#define CONTROL_BITS 1.0   /* a control bit was ever set */
#define CALMED 2.0	   /* repeat message request at first, later not */
#define UNSET_USER_DATA 1.0 /* FF fill, the value at start */
#define STRANGER (-2.0)	   /* another ID among them */
#define ONE_NODE_MOST 0.0  /* a single node is at best as likely as not */

struct group {
	const struct nod_nm_detect *detect;
	uint32_t base;
	uint8_t mask;
	int node, control; /* byte positions */
	uint32_t lowest, highest;
	unsigned nodes, zeros, strangers;
	unsigned period_ms; /* of the first node that has one */
	bool other_period, control_bits, calmed, unset;
};

static bool is_node(const struct group *g, const struct nod_nm_id *id)
{
	if ((id->id & ~(uint32_t)g->mask) != g->base || id->frames < FRAMES_LEAST ||
	    !id->constant[g->node] || id->first[g->node] != (id->id & g->mask) ||
	    id->bits[g->control] & NOD_AUTOSAR_NM_RESERVED || !id->one_length)
		return false;
	unsigned period = nod_nm_period_ms(id);
	return !period || period >= PERIOD_LEAST_MS;
}

static bool differs(unsigned a, unsigned b)
{
	unsigned larger = a > b ? a : b, apart = a > b ? a - b : b - a;

	return apart * PERIOD_SHARE > larger;
}

static void add(struct group *g, const struct nod_nm_id *id)
{
	unsigned period = nod_nm_period_ms(id);

	g->lowest = !g->nodes || id->id < g->lowest ? id->id : g->lowest;
	g->highest = !g->nodes || id->id > g->highest ? id->id : g->highest;
	g->nodes++;
	g->zeros += id->first[g->node] == 0;
	g->other_period |= period && g->period_ms && differs(period, g->period_ms);
	g->period_ms = g->period_ms ? g->period_ms : period;
	g->control_bits |= id->bits[g->control] != 0;
	g->calmed |= id->calmed[g->control];
	g->unset |= id->unset && id->length > 2;
}

/* Nothing is gathered when the group has a member before the `first`-th ID: it was
 * gathered then. */
static void gather(struct group *g, unsigned first)
{
	for (unsigned i = 0; i < g->detect->count; i++) {
		const struct nod_nm_id *id = &g->detect->ids[g->detect->used[i]];
		if (!is_node(g, id))
			continue;
		if (i < first)
			return;
		add(g, id);
	}
	if (g->nodes)
		g->strangers = nod_nm_ids_between(g->detect, g->lowest, g->highest) - g->nodes;
}

static double weigh(const struct group *g)
{
	double odds = PRIOR + PER_NODE * (g->nodes - g->zeros) + NODE_ZERO * g->zeros +
		      STRANGER * g->strangers;

	if (g->nodes >= 2 && g->period_ms)
		odds += g->other_period ? OTHER_PERIOD : SAME_PERIOD;
	odds += g->control_bits ? CONTROL_BITS : 0;
	odds += g->calmed ? CALMED : 0;
	odds += g->unset ? UNSET_USER_DATA : 0;
	if (g->nodes < 2 && odds > ONE_NODE_MOST)
		odds = ONE_NODE_MOST;
	return nod_nm_confidence(odds);
}

static void explain(const struct group *g, struct nod_nm_detection *result)
{
	char first[NOD_ID_TEXT], last[NOD_ID_TEXT], period[32] = "";

	if (g->nodes >= 2 && g->period_ms && !g->other_period)
		snprintf(period, sizeof(period), ", all every %u ms", g->period_ms);
	snprintf(result->reason, sizeof(result->reason),
		 "%u ID%s from %s to %s with the own node number in byte %d and nothing but "
		 "control bits in byte %d%s%s",
		 g->nodes, g->nodes == 1 ? "" : "s", nod_id_print(first, g->lowest),
		 nod_id_print(last, g->highest), g->node,
		 g->control, period, g->unset ? ", unused bytes are FF" : "");
}

static void keep_better(const struct group *g, struct nod_nm_detection *result)
{
	double confidence = weigh(g);

	if (confidence <= result->confidence)
		return;
	result->confidence = confidence;
	result->nodes = g->nodes;
	result->layout = nod_nm_default_layout(NOD_NM_AUTOSAR);
	result->layout.node_byte = g->node;
	result->layout.control_byte = g->control;
	result->layout.first_id = g->lowest;
	result->layout.last_id = g->highest;
	nod_nm_widen(g->detect, &result->layout, true);
	explain(g, result);
}

void nod_nm_detect_autosar(const struct nod_nm_detect *detect, struct nod_nm_detection *result)
{
	memset(result, 0, sizeof(*result));
	for (unsigned i = 0; i < detect->count; i++)
		for (int m = 0; m < NOD_NM_MASKS; m++)
			for (int node = 0; node < 2; node++) {
				const struct nod_nm_id *id = &detect->ids[detect->used[i]];
				struct group g = {.detect = detect, .mask = nod_nm_masks[m],
						  .base = id->id & ~(uint32_t)nod_nm_masks[m],
						  .node = node, .control = 1 - node};
				if (!is_node(&g, id))
					continue;
				gather(&g, i);
				if (g.nodes)
					keep_better(&g, result);
			}
}
