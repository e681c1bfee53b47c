/* SPDX-License-Identifier: MIT */
#include "nm-traffic.h"

struct autosar {
	uint32_t base;
	bool reversed;
	uint8_t control;
	unsigned nodes;
	bool releases; /* the last one is ready to sleep halfway through */
	bool goes;     /* ... and its unit says nothing any more */
	bool flips;    /* bit 4 comes and goes */
};

static void run_autosar(struct traffic *t, const struct autosar *how)
{
	for (int i = 0; i < 20; i++) {
		t->now += 500 * MS;
		for (unsigned k = 0; k < how->nodes; k++) {
			bool over = k + 1 == how->nodes && i > 8;
			uint64_t node = 0x10 + 3 * k, control = how->control;
			control ^= how->flips && i % 3 == (int)k % 3 ? 0x10 : 0;
			uint64_t head = how->reversed ? control << 8 | node : node << 8 | control;
			if (!how->releases || !over)
				send(t, how->base + (uint32_t)node, head << 48 | 0xFFFFFFFFFFFF);
			if (!how->goes || !over)
				send(t, 0x100 + k, random_next(t));
		}
	}
}

static void test_autosar_in_both_byte_orders(void **state)
{
	(void)state;
	for (int reversed = 0; reversed < 2; reversed++) {
		struct traffic t = traffic_new(5);
		run_autosar(&t, &(struct autosar){.base = 0x500,
						  .reversed = reversed,
						  .control = 0x10,
						  .nodes = 4,
						  .releases = true});
		struct nod_nm_detection r = result_of(&t);
		assert_int_equal(r.layout.scheme, NOD_NM_AUTOSAR);
		assert_true(r.confidence >= BELIEVED);
		assert_int_equal(r.layout.node_byte, reversed);
		assert_int_equal(r.layout.control_byte, !reversed);
		assert_int_equal(r.nodes, 4);
		assert_true(r.layout.first_id <= 0x510 && r.layout.last_id >= 0x519);
		assert_non_null(strstr(r.reason, "4 IDs from 510 to 519"));
		assert_non_null(strstr(r.reason, "all every 500 ms"));
		nod_nm_detect_free(t.detect);
	}
}

static void test_autosar_with_extended_ids(void **state)
{
	(void)state;
	struct traffic t = traffic_new(6);

	run_autosar(&t, &(struct autosar){.base = 0x1B000000 | NOD_ID_EXTENDED,
					  .nodes = 3,
					  .releases = true});
	struct nod_nm_detection r = result_of(&t);
	assert_int_equal(r.layout.scheme, NOD_NM_AUTOSAR);
	assert_true(r.confidence >= BELIEVED);
	assert_true(r.layout.first_id & NOD_ID_EXTENDED);
	nod_nm_detect_free(t.detect);
}

static void test_autosar_among_application_traffic(void **state)
{
	(void)state;
	unsigned found = 0, wrong = 0;

	for (unsigned run = 0; run < 50; run++) {
		struct traffic t = traffic_new(run + 1000);
		struct message m[40];
		make_messages(&t, m, 40, false);
		for (unsigned i = 0; i < 40; i++)
			m[i].id = m[i].id % 0x500;
		for (int i = 0; i < 16; i++) {
			run_messages(&t, m, 40, (i + 1) * 500 * MS);
			for (uint32_t node = 1; node < (i < 8 ? 6 : 4); node += 2)
				send(&t, 0x600 + node,
				     (uint64_t)node << 56 | (i < 2 ? UINT64_C(0x11) << 48 : 0));
		}
		struct nod_nm_detection r = result_of(&t);
		bool right = r.layout.scheme == NOD_NM_AUTOSAR && r.nodes == 3 &&
			     r.layout.first_id <= 0x601 && r.layout.last_id >= 0x605;
		found += right && r.confidence >= BELIEVED;
		wrong += !right && r.confidence >= BELIEVED;
		nod_nm_detect_free(t.detect);
	}
	assert_int_equal(found, 50);
	assert_int_equal(wrong, 0);
}

/* What can be told of these messages is their look alone. */
static void test_what_never_behaves_like_a_node_is_offered_and_not_believed(void **state)
{
	(void)state;
	static const struct autosar cases[] = {
		{.base = 0x500, .control = 0x10, .nodes = 6},
		{.base = 0x500, .nodes = 2, .releases = true, .goes = true},
		{.base = 0x500, .nodes = 6, .releases = true, .flips = true},
	};

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct traffic t = traffic_new(8);
		run_autosar(&t, &cases[i]);
		struct nod_nm_detection r = result_of(&t);
		assert_int_equal(r.layout.scheme, NOD_NM_AUTOSAR);
		assert_true(r.confidence > 0.5);
		assert_true(r.confidence < BELIEVED);
		assert_false(r.proved);
		nod_nm_detect_free(t.detect);
	}
}

/* Its unit says its last word almost a second later: they went together. */
static void test_who_goes_with_its_unit_is_not_believed(void **state)
{
	(void)state;
	struct traffic t = traffic_new(10);

	for (int i = 0; i < 200; i++) {
		t.now += 100 * MS;
		for (unsigned k = 0; k < 3; k++)
			if (k < 2 || i < 87)
				send(&t, 0x100 + k, random_next(&t));
		for (unsigned k = 0; k < 3 && i % 10 == 8; k++)
			if (k < 2 || i < 87)
				send(&t, 0x510 + k, (uint64_t)k << 56 | 0x550000000000);
	}
	struct nod_nm_detection r = result_of(&t);
	assert_int_equal(r.layout.scheme, NOD_NM_AUTOSAR);
	assert_false(r.proved);
	assert_true(r.confidence < BELIEVED);
	nod_nm_detect_free(t.detect);
}

/* Twenty immediate messages at 10 ms after each wake-up, then a period of 100 ms: of it alone is
 * said how often they come. Three nodes, the last of which is ready to sleep after a while. */
static void test_immediate_messages_are_not_the_period(void **state)
{
	(void)state;
	struct traffic t = traffic_new(11);
	const int64_t begin = 12000 * MS;

	for (int wake = 1; wake <= 3; wake++)
		for (int64_t ms = 0; ms < (wake < 3 ? 8000 : 300); ms += 10) {
			t.now = begin * wake + ms * MS;
			if (ms % 50 == 0)
				for (unsigned k = 0; k < 3; k++)
					send(&t, 0x100 + k, random_next(&t));
			for (unsigned k = 0; k < 3; k++)
				if ((ms < 200 || ms % 100 == 90) && (k < 2 || ms < 1000))
					send(&t, 0x511 + k, UINT64_C(0x0000555555555555));
		}
	struct nod_nm_detection r = result_of(&t);
	assert_int_equal(r.layout.scheme, NOD_NM_AUTOSAR);
	assert_int_equal(r.nodes, 3);
	assert_non_null(strstr(r.reason, "every 100 ms"));
	nod_nm_detect_free(t.detect);
}

/* Nodes whose last byte counts, two of which are let go of one after another; in their block, at
 * their pace, an ordinary message that never counts and never stops. */
static void test_who_does_not_count_as_the_others_is_no_node(void **state)
{
	(void)state;
	struct traffic t = traffic_new(12);

	for (int i = 0; i < 400; i++) {
		t.now += 100 * MS;
		for (unsigned k = 0; k < 4; k++) {
			send(&t, 0x100 + k, random_next(&t));
			if (i < 100 || i < 200 * (int)k)
				send(&t, 0x501 + k, (uint64_t)(3 * i) & 0xFF);
		}
		send(&t, 0x552, UINT64_C(0x000000EEFF000000) | 0xD9);
	}
	struct nod_nm_detection r = result_of(&t);
	assert_int_equal(r.layout.scheme, NOD_NM_AUTOSAR);
	assert_int_equal(r.nodes, 4);
	assert_true(r.confidence >= BELIEVED);
	assert_true(nod_nm_detect_is_node(t.detect, &r, 0x504));
	assert_false(nod_nm_detect_is_node(t.detect, &r, 0x552));
	nod_nm_detect_free(t.detect);
}

/* Numbers that have nothing to do with the IDs, in byte 1; in byte 0 one shows a coordinator's id, 2,
 * which with 512 and 510 looks like numbers of a base 510. Units that are let go talk on. */
static void test_two_numbers_by_chance_hide_no_nodes(void **state)
{
	(void)state;
	struct traffic t = traffic_new(14);

	for (int i = 0; i < 120; i++) {
		t.now += (i < 5 ? 20 : 500) * MS; /* immediate ones first */
		for (unsigned k = 0; k < 5; k++) {
			uint64_t head = (k == 4 ? UINT64_C(0x0200) : 0) | (0x60 + 7 * k);
			send(&t, 0x100 + k, random_next(&t));
			if (k >= 3 || i < 40 + 10 * (int)k)
				send(&t, 0x50E + k, head << 48 | 0xFFFFFFFFFFFF);
		}
	}
	struct nod_nm_detection r = result_of(&t);
	assert_true(r.confidence >= BELIEVED);
	assert_int_equal(r.nodes, 5);
	assert_int_equal(r.layout.node_byte, 1);
	nod_nm_detect_free(t.detect);
}

/* Found on a real recording, and adopted there: two IDs that carry their low byte as a constant, and
 * one of them ends with all that its unit says. And byte 0 = 81 is no number of 501. */
static void test_two_constants_are_not_believed(void **state)
{
	(void)state;
	struct traffic t = traffic_new(13);

	for (int i = 0; i < 60; i++) {
		t.now += 1000 * MS;
		send(&t, 0x100, random_next(&t));
		send(&t, 0x3D1, 0xD100000000000000);
		send(&t, 0x501, 0x8100000000000000);
		for (uint32_t id = 0x200; id < 0x203 && i < 30; id++)
			send(&t, id, random_next(&t));
		if (i < 30)
			send(&t, 0x3E7, 0xE700000000000000);
	}
	struct nod_nm_detection r = result_of(&t);
	assert_true(r.confidence < BELIEVED);
	assert_false(r.proved);
	assert_false(nod_nm_detect_is_node(t.detect, &r, 0x501));
	nod_nm_detect_free(t.detect);
}

/* Found on real recordings: a constant, a message of one byte, an operation code 0F. */
static void test_strangers_among_the_nodes_are_no_nodes(void **state)
{
	(void)state;
	struct traffic t = traffic_new(9);
	const struct nod_frame byte = {.id = 0x513, .length = 1, .data = {0x13}};

	for (int i = 0; i < 20; i++) {
		send(&t, 0x51F, 0x000F0000FCFB0032);
		send(&t, 0x511, 0x110F000000000000);
		nod_nm_detect_feed(t.detect, &byte);
		run_autosar(&t, &(struct autosar){.base = 0x500, .nodes = 5, .releases = true});
	}
	struct nod_nm_detection r = result_of(&t);
	assert_true(r.confidence >= BELIEVED);
	assert_true(nod_nm_detect_is_node(t.detect, &r, 0x510));
	assert_false(nod_nm_detect_is_node(t.detect, &r, 0x513));
	assert_false(nod_nm_detect_is_node(t.detect, &r, 0x51F));
	nod_nm_detect_free(t.detect);
}

static void test_one_node_alone_is_not_believed(void **state)
{
	(void)state;
	struct traffic t = traffic_new(7);

	run_autosar(&t, &(struct autosar){.base = 0x500, .control = 0x10, .nodes = 1});
	assert_true(result_of(&t).confidence < BELIEVED);
	nod_nm_detect_free(t.detect);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_autosar_in_both_byte_orders),
		cmocka_unit_test(test_autosar_with_extended_ids),
		cmocka_unit_test(test_autosar_among_application_traffic),
		cmocka_unit_test(test_what_never_behaves_like_a_node_is_offered_and_not_believed),
		cmocka_unit_test(test_who_goes_with_its_unit_is_not_believed),
		cmocka_unit_test(test_immediate_messages_are_not_the_period),
		cmocka_unit_test(test_who_does_not_count_as_the_others_is_no_node),
		cmocka_unit_test(test_two_numbers_by_chance_hide_no_nodes),
		cmocka_unit_test(test_two_constants_are_not_believed),
		cmocka_unit_test(test_strangers_among_the_nodes_are_no_nodes),
		cmocka_unit_test(test_one_node_alone_is_not_believed),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
