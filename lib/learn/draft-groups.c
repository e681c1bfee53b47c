/* SPDX-License-Identifier: MIT */
/* Which IDs of a recording seem to come from one module. */
#include "draft-internal.h"

#include <stdlib.h>

#include "j1939.h"

/* Makers give a module IDs that stand close together. Within the first
 * distance they are taken for one module's, up to the second only with the
 * same period. Both chosen: the draft is for a person to correct. */
#define CLOSE 3
#define NEAR 15

/* Periods are the same within 1/10 of the longer one. Chosen: above the
 * jitter of what is sent on a timer. */
#define PERIOD_PART 10

/* Heard in the same windows: shared ones at least this part of all in which
 * either was heard, in percent. Chosen: a module falls silent as a whole. */
#define TOGETHER_PERCENT 80

static bool same_period(const struct nod_draft_id *a, const struct nod_draft_id *b)
{
	struct nod_period x = nod_sampler_period(&a->sampler), y = nod_sampler_period(&b->sampler);

	if (x.rhythm != NOD_RHYTHM_CYCLIC || y.rhythm != NOD_RHYTHM_CYCLIC)
		return false;
	int64_t longer = x.period.ns > y.period.ns ? x.period.ns : y.period.ns;
	return llabs(x.period.ns - y.period.ns) <= longer / PERIOD_PART;
}

static bool heard_together(const struct nod_draft_id *a, const struct nod_draft_id *b)
{
	int both = __builtin_popcountll(a->active & b->active);
	int either = __builtin_popcountll(a->active | b->active);

	return both * 100 >= either * TOGETHER_PERCENT;
}

static bool belong_together(const struct nod_draft_id *a, const struct nod_draft_id *b)
{
	uint32_t distance = b->id - a->id;

	if (distance > NEAR || !heard_together(a, b))
		return false;
	return distance <= CLOSE || same_period(a, b);
}

static bool is_node(const struct nod_draft_id *id, const struct nod_nm_detect *detect,
		    const struct nod_nm_detection *d)
{
	return d->confidence >= NOD_DRAFT_SURE && nod_nm_detect_is_node(detect, d, id->id);
}

static bool is_unit(const struct nod_draft_id *id, const struct nod_nm_detection *d)
{
	return d->layout.scheme == NOD_NM_J1939 && d->confidence >= NOD_DRAFT_SURE &&
	       id->id & NOD_ID_EXTENDED && (id->id & 0xFF) <= NOD_J1939_LAST_ADDRESS;
}

/* Nine of ten frames look like it: by chance fewer do. */
static bool is_tester(const struct nod_draft_id *id)
{
	uint64_t most = id->requests > id->answers ? id->requests : id->answers;

	return most * 10 >= id->frames * 9;
}

static void classify(struct nod_draft_id *id, const struct nod_nm_detect *detect,
		     const struct nod_nm_detection *d)
{
	id->kind = NOD_DRAFT_LOOSE;
	id->group = 0;
	if (is_tester(id)) {
		id->kind = NOD_DRAFT_TESTER;
	} else if (is_node(id, detect, d)) {
		id->kind = NOD_DRAFT_NODE;
		id->group = (id->id - d->base) & 0xFF;
	} else if (is_unit(id, d)) {
		id->kind = NOD_DRAFT_UNIT;
		id->group = id->id & 0xFF;
	}
}

void nod_draft_group(struct nod_draft_id **list, size_t count, const struct nod_nm_detect *detect,
		     const struct nod_nm_detection *detection)
{
	const struct nod_draft_id *before = NULL;
	unsigned group = 0;

	for (size_t i = 0; i < count; i++) {
		classify(list[i], detect, detection);
		if (list[i]->kind != NOD_DRAFT_LOOSE)
			continue;
		if (!before || !belong_together(before, list[i]))
			group++;
		list[i]->group = group;
		before = list[i];
	}
}
