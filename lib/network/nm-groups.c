/* SPDX-License-Identifier: MIT */
#include "nm-groups.h"

#include <stdlib.h>

/* ---- places by an ID ---- */

static void add(struct nod_nm_order *order, uint32_t id, unsigned place)
{
	order->keys[order->count++] = (uint64_t)id << 32 | place;
}

static int compare(const void *a, const void *b)
{
	uint64_t x = *(const uint64_t *)a, y = *(const uint64_t *)b;

	return (x > y) - (x < y);
}

static void sort(struct nod_nm_order *order)
{
	qsort(order->keys, order->count, sizeof(*order->keys), compare);
}

/* How many IDs come before this one. */
static unsigned find(const struct nod_nm_order *order, uint64_t id)
{
	unsigned low = 0, high = order->count;

	while (low < high) {
		unsigned middle = (low + high) / 2;
		if (order->keys[middle] >> 32 < id)
			low = middle + 1;
		else
			high = middle;
	}
	return low;
}

static unsigned place_of(const struct nod_nm_order *order, unsigned i)
{
	return (unsigned)(order->keys[i] & UINT32_MAX);
}

/* ---- who may be a node ---- */

#define UNROUND_PERIOD_MS (2 * NOD_NM_PERIOD_LEAST_MS)

bool nod_nm_is_numbered(const struct nod_nm_id *id, int byte, uint32_t *base)
{
	return nod_nm_has_number(id, byte, base) && nod_nm_may_be_pdu(id) &&
	       (nod_nm_is_round(*base) || nod_nm_period_ms(id) >= UNROUND_PERIOD_MS);
}

static void choose(struct nod_nm_candidates *among, const struct nod_nm_detect *detect,
		   bool (*may)(const struct nod_nm_id *))
{
	among->count = 0;
	for (unsigned i = 0; i < detect->count; i++) {
		const struct nod_nm_id *id = &detect->ids[detect->used[i]];
		if (may(id))
			among->ids[among->count++] = id;
	}
}

void nod_nm_candidates_numbered(struct nod_nm_candidates *among, const struct nod_nm_detect *detect)
{
	uint32_t base;

	choose(among, detect, nod_nm_may_be_pdu);
	among->heard.count = among->numbered[0].count = among->numbered[1].count = 0;
	for (unsigned i = 0; i < detect->count; i++)
		add(&among->heard, detect->ids[detect->used[i]].id, i);
	for (unsigned i = 0; i < among->count; i++)
		for (int byte = 0; byte < 2; byte++)
			if (nod_nm_is_numbered(among->ids[i], byte, &base))
				add(&among->numbered[byte], base, i);
	sort(&among->heard);
	sort(&among->numbered[0]);
	sort(&among->numbered[1]);
}

void nod_nm_candidates_bare(struct nod_nm_candidates *among, const struct nod_nm_detect *detect)
{
	choose(among, detect, nod_nm_may_be_bare);
	among->by_id.count = 0;
	for (unsigned i = 0; i < among->count; i++)
		add(&among->by_id, among->ids[i]->id, i);
	sort(&among->by_id);
}

/* ---- who belongs together ---- */

static void join(struct nod_nm_members *members, unsigned place)
{
	members->bits[place / 64] |= UINT64_C(1) << place % 64;
}

bool nod_nm_group_numbered(const struct nod_nm_candidates *among, unsigned first, int byte,
			   struct nod_nm_members *members, uint32_t *base)
{
	const struct nod_nm_order *order = &among->numbered[byte];

	if (!nod_nm_is_numbered(among->ids[first], byte, base))
		return false;
	unsigned i = find(order, *base);
	if (place_of(order, i) != first)
		return false;
	for (; i < order->count && order->keys[i] >> 32 == *base; i++)
		join(members, place_of(order, i));
	return true;
}

bool nod_nm_group_alike(const struct nod_nm_candidates *among, unsigned first,
			struct nod_nm_members *members)
{
	const struct nod_nm_order *order = &among->by_id;
	const struct nod_nm_id *leader = among->ids[first];
	uint32_t from = leader->id > NOD_NM_BLOCK ? leader->id - NOD_NM_BLOCK : 0;

	if (!nod_nm_is_alike(leader, leader))
		return false;
	for (unsigned i = find(order, from); i < order->count; i++) {
		unsigned place = place_of(order, i);
		if (order->keys[i] >> 32 > leader->id + UINT64_C(0) + NOD_NM_BLOCK)
			break;
		if (!nod_nm_is_alike(leader, among->ids[place]))
			continue;
		if (place < first)
			return false;
		join(members, place);
	}
	return true;
}

const struct nod_nm_id *nod_nm_member_next(const struct nod_nm_candidates *among,
					   const struct nod_nm_members *members, unsigned *place)
{
	for (; *place < among->count; *place = (*place | 63) + 1) {
		uint64_t left = members->bits[*place / 64] >> *place % 64;
		if (!left)
			continue;
		*place += (unsigned)__builtin_ctzll(left);
		return among->ids[(*place)++];
	}
	return NULL;
}

unsigned nod_nm_ids_between(const struct nod_nm_candidates *among, uint32_t first, uint32_t last)
{
	return find(&among->heard, last + UINT64_C(1)) - find(&among->heard, first);
}
