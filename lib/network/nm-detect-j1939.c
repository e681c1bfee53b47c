/* SPDX-License-Identifier: MIT */
#include <stdio.h>
#include <string.h>

#include "j1939.h"
#include "nm-detect-internal.h"
#include "nm-rules.h"

/* Frames before anything is said. */
#define FRAMES_LEAST 10

/* Log-odds, chosen: a random 29-bit ID has one of the few dozen well-known
 * parameter groups about once in 100, mostly by its PDU format alone, so a few
 * of them prove nothing among many others; but nearly all IDs of a J1939
 * network are of the standard's or the makers' broadcast groups. */
#define PRIOR (-4.0)
#define PER_GROUP 2.0
#define GROUPS_COUNTED 4
#define SEVERAL_ADDRESSES 1.0
#define ADDRESS_CLAIM 2.0
#define MOSTLY_LIKE 2.0        /* more than two thirds of the IDs, and all 29-bit */
#define MOSTLY_UNLIKE (-8.0)   /* less than a third of the IDs */
#define STANDARD_FRAMES (-4.0) /* more than a tenth of the frames are 11-bit */

struct tally {
	uint64_t extended, standard; /* frames */
	unsigned ids, like;          /* 29-bit IDs; of these, like J1939's */
	unsigned groups, addresses;
	uint32_t seen[64]; /* distinct known groups */
	bool address[256], claim;
};

static void note_group(struct tally *t, uint32_t pgn)
{
	for (unsigned i = 0; i < t->groups; i++)
		if (t->seen[i] == pgn)
			return;
	if (t->groups < sizeof(t->seen) / sizeof(t->seen[0]))
		t->seen[t->groups++] = pgn;
}

/* Well-known, or of the formats that broadcast (F0, FD, FE) or are the makers'
 * own (FF); from memory of J1939-21. */
static bool is_like(const struct nod_j1939 *j)
{
	uint32_t format = j->pgn >> 8;

	return nod_j1939_pgn_name(j->pgn) || format == 0xF0 || (format >= 0xFD && format <= 0xFF);
}

static void add(struct tally *t, const struct nod_nm_id *id)
{
	struct nod_j1939 j;

	if (!nod_j1939_decode(&j, id->id)) {
		t->standard += id->frames;
		return;
	}
	t->extended += id->frames;
	t->ids++;
	t->like += is_like(&j);
	if (!nod_j1939_pgn_name(j.pgn))
		return;
	note_group(t, j.pgn);
	t->claim |= j.pgn == NOD_J1939_PGN_ADDRESS_CLAIMED && j.destination == NOD_J1939_GLOBAL &&
		    id->length == 8;
	t->addresses += !t->address[j.source];
	t->address[j.source] = true;
}

static double weigh(const struct tally *t)
{
	unsigned groups = t->groups < GROUPS_COUNTED ? t->groups : GROUPS_COUNTED;
	double odds = PRIOR + PER_GROUP * groups;

	if (t->extended + t->standard < FRAMES_LEAST || !t->groups)
		return 0;
	odds += t->addresses >= 2 ? SEVERAL_ADDRESSES : 0;
	odds += t->claim ? ADDRESS_CLAIM : 0;
	odds += t->like * 3 > t->ids * 2 && !t->standard ? MOSTLY_LIKE : 0;
	odds += t->like * 3 < t->ids ? MOSTLY_UNLIKE : 0;
	odds += t->standard * 10 > t->extended ? STANDARD_FRAMES : 0;
	return nod_nm_confidence(odds);
}

static void detect_j1939(const struct nod_nm_detect *detect, struct nod_nm_detection *result)
{
	struct tally t = {0};

	memset(result, 0, sizeof(*result));
	for (unsigned i = 0; i < detect->count; i++)
		add(&t, &detect->ids[detect->used[i]]);
	result->confidence = weigh(&t);
	if (result->confidence <= 0)
		return;
	result->proved = true;
	result->nodes = t.addresses;
	result->layout = nod_nm_layout_of(NOD_NM_J1939);
	snprintf(result->reason, sizeof(result->reason),
		 "29-bit IDs with %u well-known parameter groups from %u address%s%s", t.groups,
		 t.addresses, t.addresses == 1 ? "" : "es", t.claim ? ", an address claim" : "");
}

const struct nod_nm_rules nod_nm_rules_j1939 = {NOD_NM_J1939, false, NULL, detect_j1939, NULL};
