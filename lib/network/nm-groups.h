/* SPDX-License-Identifier: MIT */
/* Which IDs of a network may be AUTOSAR nodes, and which of them belong together: by numbers
 * that count from one ID, or by their look. Each group is found from its first member, in the
 * order of appearance, at the cost of its members and of a search: not by holding each ID against
 * each. Shared by the nm-detect files only. */
#ifndef NOD_NM_GROUPS_H
#define NOD_NM_GROUPS_H

#include "nm-detect-internal.h"

/* Places by an ID, in ascending order of both. */
struct nod_nm_order {
	uint64_t keys[NOD_NM_IDS]; /* ID << 32 | place */
	unsigned count;
};

/* What is known of each alone lets most others of a network go. */
struct nod_nm_candidates {
	const struct nod_nm_id *ids[NOD_NM_IDS]; /* in order of appearance: places */
	unsigned count;
	struct nod_nm_order numbered[2]; /* by the ID of node 0 by byte 0, 1; only these */
	struct nod_nm_order by_id;       /* only without numbers */
	struct nod_nm_order heard;       /* all IDs of the network, candidates or not */
};

struct nod_nm_members {
	uint64_t bits[NOD_NM_IDS / 64]; /* by place */
};

/* It carries its own number in this byte, as nodes do; *base is the ID of number 0. */
bool nod_nm_is_numbered(const struct nod_nm_id *id, int byte, uint32_t *base);

/* Those that may have numbers; those that may have none, instead. */
void nod_nm_candidates_numbered(struct nod_nm_candidates *among,
				const struct nod_nm_detect *detect);
void nod_nm_candidates_bare(struct nod_nm_candidates *among, const struct nod_nm_detect *detect);

/* All whose numbers in this byte count from the same ID, *base; all of one look. False: it is not
 * the first of a group. `members` is empty before. */
bool nod_nm_group_numbered(const struct nod_nm_candidates *among, unsigned first, int byte,
			   struct nod_nm_members *members, uint32_t *base);
bool nod_nm_group_alike(const struct nod_nm_candidates *among, unsigned first,
			struct nod_nm_members *members);

/* The next one in order of appearance, from *place on; NULL: no more. */
const struct nod_nm_id *nod_nm_member_next(const struct nod_nm_candidates *among,
					   const struct nod_nm_members *members, unsigned *place);

/* IDs heard from first to last, whatever they are. */
unsigned nod_nm_ids_between(const struct nod_nm_candidates *among, uint32_t first, uint32_t last);

#endif
