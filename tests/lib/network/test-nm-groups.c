/* SPDX-License-Identifier: MIT */
/* Whom a search finds together is whom holding each against each finds. */
#include "nm-groups.h"
#include "nm-traffic.h"

#define IDS 400

/* Messages of a few looks, periods and lengths in blocks that overlap; every third carries a
 * number. */
static void send_one(struct traffic *t, uint32_t id, const uint64_t *kinds)
{
	uint64_t kind = kinds[id % 64],
		 data = kind % 3 ? kind >> 40 << 48 : (uint64_t)(id & 0x3F) << 56;
	struct nod_frame f = {.time = {t->now}, .id = id, .length = kind >> 32 & 7 ? 8 : 6};

	data |= kind & 0x100 ? UINT64_C(0xFFFFFFFFFF) : kind & 0x200 ? (kind & 0xFF) << 8 : 0;
	for (int i = 0; i < f.length; i++)
		f.data[i] = (uint8_t)(data >> (56 - 8 * i));
	nod_nm_detect_feed(t->detect, &f);
}

static struct traffic invent(uint64_t seed)
{
	struct traffic t = traffic_new(seed);
	uint32_t ids[IDS], block = seed % 2 ? 0x400 : NOD_ID_EXTENDED | 0x10000;
	uint64_t kinds[64];

	for (unsigned i = 0; i < 64; i++)
		kinds[i] = random_next(&t);
	for (unsigned i = 0; i < IDS; i++)
		ids[i] = (seed % 3 ? block : 0) + (uint32_t)(random_next(&t) % 0x400);
	for (unsigned round = 0; round < 12; round++)
		for (unsigned i = 0; i < IDS; i++) {
			t.now = (round * (ids[i] % 5 ? 200 : 900) + i % 100) * MS;
			send_one(&t, ids[i], kinds);
		}
	return t;
}

static void same_members(const struct nod_nm_candidates *among, const struct nod_nm_members *found,
			 const bool *expected)
{
	unsigned place = 0;

	for (unsigned i = 0; i < among->count; i++)
		if (expected[i])
			assert_ptr_equal(nod_nm_member_next(among, found, &place), among->ids[i]);
	assert_null(nod_nm_member_next(among, found, &place));
}

static unsigned hold_alike(const struct nod_nm_candidates *among)
{
	unsigned larger = 0;

	for (unsigned first = 0; first < among->count; first++) {
		const struct nod_nm_id *leader = among->ids[first];
		struct nod_nm_members members = {{0}};
		bool expected[NOD_NM_IDS] = {false}, is_first = nod_nm_is_alike(leader, leader);
		for (unsigned i = 0; i < among->count; i++) {
			expected[i] = nod_nm_is_alike(leader, among->ids[i]);
			is_first &= i >= first || !expected[i];
			larger += expected[i] && i > first;
		}
		assert_int_equal(nod_nm_group_alike(among, first, &members), is_first);
		if (is_first)
			same_members(among, &members, expected);
	}
	return larger;
}

static unsigned hold_numbered(const struct nod_nm_candidates *among, int byte)
{
	unsigned larger = 0;

	for (unsigned first = 0; first < among->count; first++) {
		struct nod_nm_members members = {{0}};
		bool expected[NOD_NM_IDS] = {false};
		uint32_t base = 0, other;
		bool is_first = nod_nm_is_numbered(among->ids[first], byte, &base);
		for (unsigned i = 0; i < among->count; i++) {
			expected[i] = nod_nm_is_numbered(among->ids[i], byte, &other) &&
				      other == base;
			is_first &= i >= first || !expected[i];
			larger += is_first && expected[i] && i > first;
		}
		assert_int_equal(nod_nm_group_numbered(among, first, byte, &members, &other),
				 is_first);
		if (is_first)
			same_members(among, &members, expected);
	}
	return larger;
}

static void groups_are_those_of_each_with_each(void **state)
{
	struct nod_nm_candidates among;
	unsigned alike = 0, numbered = 0;

	(void)state;
	for (uint64_t seed = 1; seed <= 30; seed++) {
		struct traffic t = invent(seed);
		result_of(&t); /* which works out the periods */
		nod_nm_candidates_numbered(&among, t.detect);
		numbered += hold_numbered(&among, 0) + hold_numbered(&among, 1);
		nod_nm_candidates_bare(&among, t.detect);
		alike += hold_alike(&among);
		nod_nm_detect_free(t.detect);
	}
	assert_in_range(numbered, 1000, UINT32_MAX); /* else nothing was held against anything */
	assert_in_range(alike, 1000, UINT32_MAX);
}

static void counts_ids_between(void **state)
{
	static const uint32_t ids[] = {0x400, 0x405, 0x404, 0x7FF, 0x000, NOD_ID_EXTENDED | 0x405};
	struct traffic t = traffic_new(1);
	struct nod_nm_candidates among;

	(void)state;
	for (unsigned i = 0; i < sizeof(ids) / sizeof(*ids); i++)
		send(&t, ids[i], 0);
	nod_nm_candidates_numbered(&among, t.detect);
	assert_int_equal(nod_nm_ids_between(&among, 0x400, 0x405), 3);
	assert_int_equal(nod_nm_ids_between(&among, 0x401, 0x404), 1);
	assert_int_equal(nod_nm_ids_between(&among, 0x401, 0x403), 0);
	assert_int_equal(nod_nm_ids_between(&among, 0, UINT32_MAX), 6);
	nod_nm_detect_free(t.detect);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(groups_are_those_of_each_with_each),
		cmocka_unit_test(counts_ids_between),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
