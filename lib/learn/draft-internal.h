/* SPDX-License-Identifier: MIT */
/* Shared by the parts of the draft. Internal. */
#ifndef NOD_DRAFT_INTERNAL_H
#define NOD_DRAFT_INTERNAL_H

#include "draft.h"
#include "id-table.h"
#include "nm-detect.h"
#include "period.h"

enum nod_draft_kind {
	NOD_DRAFT_LOOSE, /* grouped by neighbourhood */
	NOD_DRAFT_NODE,  /* a network-management message: its node is a module */
	NOD_DRAFT_UNIT,  /* J1939: its source address is a module */
	NOD_DRAFT_TESTER /* a tester's request or the answer to one */
};

/* One ID on one interface. */
struct nod_draft_id {
	uint32_t id; /* with NOD_ID_EXTENDED */
	uint8_t interface;
	uint8_t shortest, longest; /* payload bytes */
	uint8_t example_length;    /* bytes of the first frame, up to 8 kept */
	uint8_t example[8];
	uint64_t frames, remote;
	uint64_t requests, answers; /* frames that look like a tester's, like the answer to one */
	nod_time last;
	uint64_t active; /* one bit per window of the recording in which it was heard */
	struct nod_sampler sampler;
	/* Filled in by nod_draft_group(): */
	enum nod_draft_kind kind;
	unsigned group; /* node, source address, or a number from 1 */
};

/* The recording is seen as this many windows of equal length. */
#define NOD_DRAFT_WINDOWS 64

struct nod_draft {
	struct nod_draft_id *ids;
	uint32_t count, room;
	struct nod_id_table numbers; /* of IDs: index + 1 */
	uint64_t unlisted;           /* frames of IDs beyond NOD_DRAFT_IDS_MAX */
	nod_time origin;
	int64_t window_ns;                 /* doubles as the recording grows */
	struct nod_nm_detect *detect[256]; /* by interface; NULL: not heard */
};

/* Management that is sure enough to be written as a fact rather than as a
 * remark. Chosen: the person reads the draft over anyway. */
#define NOD_DRAFT_SURE NOD_NM_ADOPTED

/* Sets kind and group of the IDs of one interface, which stand in `list` in
 * the order of the IDs. */
void nod_draft_group(struct nod_draft_id **list, size_t count, const struct nod_nm_detect *detect,
		     const struct nod_nm_detection *detection);

#endif
