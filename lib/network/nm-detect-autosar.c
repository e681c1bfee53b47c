/* SPDX-License-Identifier: MIT */
#include <stdio.h>
#include <string.h>

#include "autosar-nm.h"
#include "nm-groups.h"
#include "nm-rules.h"

/* Periods are the same when they differ by less than this share: clocks of
 * control units and a busy network. Chosen. */
#define PERIOD_SHARE 8

/* Log-odds, chosen: an ID that is something else carries its own low byte as a
 * constant about once in 256 (3 after allowing for the positions tried), and small
 * numbers are common; the others say that several such IDs belong together. */
#define PRIOR (-5.0)
#define PER_NODE 3.0
#define PER_SMALL_NODE 2.0 /* instead: number below 10h */
#define NODE_ZERO 1.0      /* instead: zero bytes are common */
#define UNROUND (-3.0)     /* instead of a round one, any base will do */
#define SAME_PERIOD 2.0
#define OTHER_PERIOD (-1.0) /* bus-load reduction makes of one several */
#define CONTROL_BITS 1.0    /* a control bit was ever set */
#define CALMED 2.0          /* repeat message request at first, later not */
#define UNSET_USER_DATA 1.0 /* FF fill, the value at start (SWS_CanNm_00025) */
#define BURST 2.0           /* a burst, then its period: immediate transmission */
#define STOPPED 1.5         /* by itself, at a moment of its own */
#define STOPS_COUNTED 2
#define STRANGER (-2.0)   /* another ID among them */
#define UNPROVED_MOST 1.0 /* of which nothing but constants is known */
#define ONE_NODE_MOST 0.0 /* a single node is at best as likely as not */

/* Without a node byte: messages of one look, length and period in a block of IDs are common
 * enough; that one after another falls silent while the network goes on is not. */
#define BARE_PRIOR (-6.0)
#define BARE_PER_NODE 1.0
#define BARE_PER_STOP 2.0 /* at a moment of its own */
#define BARE_NUMBERS 1.0  /* each has another value in one byte */
#define BARE_UNSET 2.0
#define BARE_EMPTY 1.0           /* instead: filled with zeros, which is common */
#define BARE_OTHER_PERIOD (-1.0) /* as bus-load reduction makes of one (from memory) */
#define BARE_COUNTED 4           /* stops, bursts */

/* So many bytes behind the front have the value at start, the others are in use. */
#define FILL_BYTES 4

/* From here on, several nodes with numbers are as good as sure; two may be so by chance. */
#define NUMBERED_ENOUGH 0.8

/* So often, in all, the active wake-up bit appeared while its sender talked on: these are no
 * control bits. Messages that end by themselves prove nothing then. Chosen. */
#define FLIPS_MOST 2

/* Stops closer to each other are one module's that went. */
#define STOPS_APART_NS (1500 * NOD_NS_PER_MS)

struct group {
	const struct nod_nm_detect *detect;
	const struct nod_nm_candidates *among;
	struct nod_nm_members members;
	uint32_t base;
	int node; /* byte position, -1: none */
	const struct nod_nm_id *leader;
	uint32_t lowest, highest;
	unsigned nodes, small, zeros, strangers, stops, ends, bursts, flips[2];
	unsigned period_ms;  /* of the first node that has one */
	uint64_t seen[2][4]; /* values of bytes 0 and 1 */
	bool own[2];         /* each is the number of its ID: these are looked at as such */
	bool shared[2];      /* two have the same, or one changes */
	uint8_t bits[2];     /* of bytes 0 and 1: OR of all */
	bool other_period, calmed[2], unset, empty, differ[2];
	nod_time stopped[BARE_COUNTED];
};

static bool differs(unsigned a, unsigned b)
{
	unsigned larger = a > b ? a : b, apart = a > b ? a - b : b - a;

	return apart * PERIOD_SHARE > larger;
}

static void note_stop(struct group *g, nod_time time)
{
	for (unsigned i = 0; i < g->stops && i < BARE_COUNTED; i++) {
		int64_t apart = nod_time_since(time, g->stopped[i]).ns;
		if (apart < STOPS_APART_NS && apart > -STOPS_APART_NS)
			return;
	}
	if (g->stops < BARE_COUNTED)
		g->stopped[g->stops++] = time;
}

static bool is_filled(const struct nod_nm_id *id, uint8_t with)
{
	int count = 0;

	for (int i = 2; i < 8 && i < id->length; i++)
		count += nod_nm_is_constant(id, i) && nod_nm_byte(id, i) == with;
	return count >= FILL_BYTES;
}

static void note_value(struct group *g, const struct nod_nm_id *id, int byte)
{
	uint8_t value = nod_nm_byte(id, byte);
	uint64_t *seen = &g->seen[byte][value / 64], bit = UINT64_C(1) << value % 64;
	uint32_t base, first;

	g->own[byte] &= nod_nm_has_number(id, byte, &base) &&
			nod_nm_has_number(g->leader, byte, &first) && base == first;
	g->shared[byte] |= *seen & bit || !nod_nm_is_constant(id, byte);
	*seen |= bit;
}

static void add(struct group *g, const struct nod_nm_id *id)
{
	unsigned period = nod_nm_period_ms(id);

	g->lowest = !g->nodes || id->id < g->lowest ? id->id : g->lowest;
	g->highest = !g->nodes || id->id > g->highest ? id->id : g->highest;
	g->nodes++;
	g->zeros += g->node >= 0 && !nod_nm_byte(id, g->node);
	g->small += g->node >= 0 && nod_nm_byte(id, g->node) && nod_nm_byte(id, g->node) < 0x10;
	g->other_period |= period && g->period_ms && differs(period, g->period_ms);
	g->period_ms = g->period_ms ? g->period_ms : period;
	for (int i = 0; i < 2; i++) {
		g->bits[i] |= id->bits[i];
		g->differ[i] |= nod_nm_byte(id, i) != nod_nm_byte(g->leader, i) ||
				!nod_nm_is_constant(id, i);
		note_value(g, id, i);
		g->calmed[i] |= id->calmed[i];
		g->flips[i] += id->flips[i];
	}
	g->unset &= g->node >= 0 ? id->unset && id->length > 2 : is_filled(id, 0xFF);
	g->empty &= is_filled(id, 0);
	g->bursts += id->burst;
	g->ends += id->ended;
}

/* Each module that is ready to sleep talks on: where less talks than there are nodes, what ends may
 * as well have been all that its module says. */
static void note_stops(struct group *g)
{
	const struct nod_nm_id *id;

	for (unsigned i = 0; (id = nod_nm_member_next(g->among, &g->members, &i));)
		if (id->alone && id->talkers >= g->nodes)
			note_stop(g, id->stopped);
}

static void gather(struct group *g)
{
	const struct nod_nm_id *id;

	g->unset = g->empty = g->own[0] = g->own[1] = true;
	for (unsigned i = 0; (id = nod_nm_member_next(g->among, &g->members, &i));)
		add(g, id);
	note_stops(g);
	if (g->nodes > 1)
		g->strangers = nod_nm_ids_between(g->among, g->lowest, g->highest) - g->nodes;
}

static bool holds_control(const struct group *g, int byte)
{
	return !(g->bits[byte] & NOD_AUTOSAR_NM_RESERVED) && g->flips[byte] <= FLIPS_MOST;
}

/* So many nodes of one look need no more than that some end, though their modules do as well: by
 * chance, others do not carry their numbers that often. */
#define SEVERAL 3

/* Where the number of each is, whatever it has to do with its ID; -1: nowhere. */
static int number_byte(const struct group *g)
{
	if (g->node >= 0 || g->nodes < SEVERAL)
		return g->node;
	return !g->shared[0] ? 0 : !g->shared[1] ? 1 : -1;
}

/* Where the control bits are; -1: nowhere. With a node byte, the other one of the first
 * two; without, the one that is not filled like user data. */
static int control_byte(const struct group *g)
{
	int number = number_byte(g);

	if (number >= 0)
		return holds_control(g, 1 - number) ? 1 - number : -1;
	for (int i = 0; i < 2; i++)
		if (holds_control(g, i) && (g->differ[i] || (g->unset && !g->bits[i])))
			return i;
	return -1;
}

static bool behaves(const struct group *g, int control)
{
	bool flips = g->node < 0 || g->flips[1 - g->node];

	return g->bursts || (control >= 0 && g->calmed[control]) ||
	       (g->stops && g->flips[1 - g->node] <= FLIPS_MOST) ||
	       (g->ends && g->ends < g->nodes && g->nodes >= (g->unset ? SEVERAL : SEVERAL + 1) &&
		control >= 0 && !flips && !g->other_period);
}

static double weigh_numbered(const struct group *g)
{
	unsigned large = g->nodes - g->zeros - g->small;
	int control = control_byte(g);
	bool proved = behaves(g, control);
	double odds = PRIOR + PER_NODE * large + PER_SMALL_NODE * g->small + NODE_ZERO * g->zeros +
		      STRANGER * g->strangers;

	odds += nod_nm_is_round(g->base) ? 0 : UNROUND;
	if (g->nodes >= 2 && g->period_ms)
		odds += g->other_period ? OTHER_PERIOD : SAME_PERIOD;
	odds += control >= 0 && g->bits[control] ? CONTROL_BITS : 0;
	odds += control >= 0 && g->calmed[control] ? CALMED : 0;
	odds += (g->unset ? UNSET_USER_DATA : 0) + (g->bursts ? BURST : 0) +
		STOPPED * (g->stops < STOPS_COUNTED ? g->stops : STOPS_COUNTED);
	if (!proved && odds > UNPROVED_MOST)
		odds = UNPROVED_MOST;
	if (g->nodes < 2 && odds > ONE_NODE_MOST)
		odds = ONE_NODE_MOST;
	return nod_nm_confidence(odds);
}

static double weigh_bare(const struct group *g)
{
	unsigned bursts = g->bursts < BARE_COUNTED ? g->bursts : BARE_COUNTED;
	int control = control_byte(g), number = number_byte(g);

	if (g->nodes < 2 || (!g->stops && !g->bursts) || g->own[0] || g->own[1])
		return 0;
	if (number >= 0 && g->flips[1 - number] > FLIPS_MOST)
		return 0;
	double odds = BARE_PRIOR + BARE_PER_NODE * g->nodes + BARE_PER_STOP * g->stops +
		      BURST * bursts + STRANGER * g->strangers;
	odds += g->other_period ? BARE_OTHER_PERIOD : 0;
	odds += number >= 0 ? BARE_NUMBERS : 0;
	odds += g->unset ? BARE_UNSET : g->empty ? BARE_EMPTY : 0;
	odds += control >= 0 && g->calmed[control] ? CALMED : 0;
	/* Empty messages that end all at once can be those of one module. */
	if (g->stops + bursts < 2 && !g->unset && odds > UNPROVED_MOST)
		odds = UNPROVED_MOST;
	return nod_nm_confidence(odds);
}

static void explain(const struct group *g, struct nod_nm_detection *result)
{
	char first[NOD_ID_TEXT], last[NOD_ID_TEXT], period[32] = "", control[60] = "";
	char number[60] = " of one look", stops[60] = "";

	if (g->nodes >= 2 && g->period_ms && !g->other_period)
		snprintf(period, sizeof(period), ", all every %u ms", g->period_ms);
	if (control_byte(g) >= 0)
		snprintf(control, sizeof(control), " and nothing but control bits in byte %d",
			 control_byte(g));
	if (g->node >= 0)
		snprintf(number, sizeof(number), " with the own node number in byte %d", g->node);
	if (g->node < 0 && g->stops)
		snprintf(stops, sizeof(stops), ", that stop while the network goes on");
	snprintf(result->reason, sizeof(result->reason), "%u ID%s from %s to %s%s%s%s%s%s",
		 g->nodes, g->nodes == 1 ? "" : "s", nod_id_print(first, g->lowest),
		 nod_id_print(last, g->highest), number, control, period, stops,
		 g->unset ? ", unused bytes are FF" : "");
}

static void keep_better(const struct group *g, struct nod_nm_detection *result)
{
	double confidence = g->node >= 0 ? weigh_numbered(g) : weigh_bare(g);

	if (confidence < result->confidence ||
	    (confidence == result->confidence && g->nodes <= result->nodes))
		return;
	result->confidence = confidence;
	result->proved = g->node < 0 || behaves(g, control_byte(g));
	result->nodes = g->nodes;
	result->base = g->node < 0 ? g->lowest & ~UINT32_C(0xFF) : g->base;
	result->layout = nod_nm_layout_of(NOD_NM_AUTOSAR);
	result->layout.node_byte = number_byte(g);
	result->numbered = g->node >= 0;
	result->layout.control_byte = control_byte(g);
	result->layout.first_id = g->lowest;
	result->layout.last_id = g->highest;
	result->leader = g->leader->id;
	nod_nm_widen(g->detect, &result->layout, true);
	if (g->node < 0)
		result->layout.first_id = result->base; /* the address is the ID less this */
	explain(g, result);
}

static bool is_autosar_node(const struct nod_nm_detect *detect,
			    const struct nod_nm_detection *found, const struct nod_nm_id *id)
{
	const struct nod_nm_id *leader = nod_nm_find(detect, found->leader);
	uint32_t base;

	if (found->numbered)
		return nod_nm_is_numbered(id, found->layout.node_byte, &base) &&
		       base == found->base;
	return leader && nod_nm_is_alike(leader, id) && nod_nm_may_be_bare(id);
}

static void look_without_numbers(const struct nod_nm_detect *detect,
				 struct nod_nm_candidates *among, struct nod_nm_detection *result)
{
	bool any = false; /* else nothing is proved of any group */

	nod_nm_candidates_bare(among, detect);
	for (unsigned i = 0; i < among->count && !any; i++)
		any = among->ids[i]->alone || among->ids[i]->burst;
	for (unsigned i = 0; any && i < among->count; i++) {
		struct group g = {
			.detect = detect, .among = among, .leader = among->ids[i], .node = -1};
		if (!nod_nm_group_alike(among, i, &g.members))
			continue;
		gather(&g);
		keep_better(&g, result);
	}
}

static void look_by_number(const struct nod_nm_detect *detect,
			   const struct nod_nm_candidates *among, unsigned first, int byte,
			   struct nod_nm_detection *result)
{
	struct group g = {
		.detect = detect, .among = among, .leader = among->ids[first], .node = byte};

	if (!nod_nm_group_numbered(among, first, byte, &g.members, &g.base))
		return;
	gather(&g);
	keep_better(&g, result);
}

static void detect_autosar(const struct nod_nm_detect *detect, struct nod_nm_detection *result)
{
	struct nod_nm_candidates among;

	memset(result, 0, sizeof(*result));
	nod_nm_candidates_numbered(&among, detect);
	for (unsigned i = 0; i < among.count; i++)
		for (int byte = 0; byte < 2; byte++)
			look_by_number(detect, &among, i, byte, result);
	if (result->confidence < NUMBERED_ENOUGH || result->nodes < SEVERAL)
		look_without_numbers(detect, &among, result);
}

const struct nod_nm_rules nod_nm_rules_autosar = {NOD_NM_AUTOSAR, true, nod_autosar_nm_take,
						  detect_autosar, is_autosar_node};
