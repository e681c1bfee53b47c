/* SPDX-License-Identifier: MIT */
#include "nm-traffic.h"

static void run_ring(struct traffic *t, uint32_t base, const uint8_t *nodes, unsigned count,
		     unsigned messages, uint8_t code)
{
	for (unsigned i = 0; i < messages; i++) {
		unsigned k = i % count;
		t->now += 100 * MS;
		send(t, base + nodes[k],
		     (uint64_t)nodes[(k + 1) % count] << 56 | (uint64_t)code << 48);
		/* an application message in between */
		send(t, 0x123, random_next(t));
		send(t, base + 0x200, random_next(t));
	}
}

static void test_a_ring(void **state)
{
	(void)state;
	static const uint8_t nodes[] = {0x00, 0x05, 0x12};
	struct traffic t = traffic_new(1);

	run_ring(&t, 0x400, nodes, 3, 40, 0x02);
	struct nod_nm_detection r = result_of(&t);
	assert_int_equal(r.layout.scheme, NOD_NM_OSEK);
	assert_true(r.confidence >= BELIEVED);
	assert_int_equal(r.nodes, 3);
	assert_int_equal(r.layout.first_id, 0x400);
	assert_true(r.layout.last_id >= 0x412);
	assert_int_equal(r.layout.osek_ring, 0x02);
	assert_false(r.layout.ids_given);
	assert_string_equal(r.reason, "ring 400 > 405 > 412 > 400, 39 of 39 messages handed on in "
				      "order");
	nod_nm_detect_free(t.detect);
}

static void test_a_ring_that_is_ready_to_sleep_and_numbered_within_64(void **state)
{
	(void)state;
	static const uint8_t nodes[] = {0x03, 0x0A};
	struct traffic t = traffic_new(2);

	run_ring(&t, 0x480, nodes, 2, 40, 0x12);
	struct nod_nm_detection r = result_of(&t);
	assert_int_equal(r.layout.scheme, NOD_NM_OSEK);
	assert_true(r.confidence >= BELIEVED);
	assert_int_equal(r.layout.first_id, 0x480);
	nod_nm_detect_free(t.detect);
}

static void test_the_ring_ends_before_other_messages(void **state)
{
	(void)state;
	static const uint8_t nodes[] = {0x00, 0x05};
	struct traffic t = traffic_new(3);

	send(&t, 0x420, 0xFFFFFFFFFFFFFFFF);
	run_ring(&t, 0x400, nodes, 2, 40, 0x02);
	assert_int_equal(result_of(&t).layout.last_id, 0x41F);
	nod_nm_detect_free(t.detect);
}

static void test_named_successors_out_of_order_are_no_ring(void **state)
{
	(void)state;
	struct traffic t = traffic_new(4);

	/* Constant bytes that happen to name each other, each at its own period. */
	for (int i = 0; i < 400; i++) {
		t.now += 10 * MS;
		send(&t, 0x401, 0x0502000000000000);
		if (i % 20 == 0)
			send(&t, 0x405, 0x0102000000000000);
	}
	assert_true(result_of(&t).confidence < BELIEVED);
	nod_nm_detect_free(t.detect);
}

/* Three messages of one period that name each other and come in that order, by chance. */
static void run_by_chance(struct traffic *t)
{
	static const int64_t after_ms[] = {100, 250, 650};

	for (int i = 0; i < 120; i++) {
		t->now += after_ms[i % 3] * MS;
		send(t, 0x401 + (uint32_t)i % 3,
		     (uint64_t)((i + 1) % 3 + 1) << 56 | UINT64_C(0x02) << 48);
	}
}

static void test_a_ring_that_is_not_even_is_believed_when_it_was_announced(void **state)
{
	(void)state;
	struct traffic t = traffic_new(5);

	run_by_chance(&t);
	assert_int_equal(result_of(&t).layout.scheme, NOD_NM_OSEK);
	assert_true(result_of(&t).confidence > 0.5);
	assert_true(result_of(&t).confidence < BELIEVED);
	send(&t, 0x402, 0x0201000000000000);
	run_by_chance(&t);
	assert_true(result_of(&t).confidence >= BELIEVED);
	nod_nm_detect_free(t.detect);
}

/* As on a real recording: a node that has just been switched on has said nothing of its state four
 * times (operation 00), at the beginning or on the way. */
static void test_a_few_messages_without_an_operation_hide_no_ring(void **state)
{
	(void)state;
	static const uint8_t nodes[] = {0x00, 0x05, 0x12, 0x1E};

	for (unsigned before = 0; before <= 108; before += 108) {
		struct traffic t = traffic_new(6);
		run_ring(&t, 0x400, nodes, 4, before, 0x02);
		for (int i = 0; i < 4; i++) {
			t.now += 100 * MS;
			send(&t, 0x405, 0x0500000000000000);
		}
		run_ring(&t, 0x400, nodes, 4, 216 - before, 0x02);
		struct nod_nm_detection r = result_of(&t);
		assert_int_equal(r.layout.scheme, NOD_NM_OSEK);
		assert_true(r.confidence >= BELIEVED);
		assert_int_equal(r.nodes, 4);
		for (unsigned k = 0; k < 4; k++)
			assert_true(nod_nm_detect_is_node(t.detect, &r, 0x400u + nodes[k]));
		nod_nm_detect_free(t.detect);
	}
}

/* Byte 0 is the whole number of the node handed to: 81 is not 01. */
static void test_a_number_above_7f_is_a_node_of_its_own(void **state)
{
	(void)state;
	static const uint8_t nodes[] = {0x01, 0x10, 0x81};
	struct traffic t = traffic_new(7);

	run_ring(&t, 0x400, nodes, 3, 60, 0x02);
	struct nod_nm_detection r = result_of(&t);
	assert_int_equal(r.layout.scheme, NOD_NM_OSEK);
	assert_true(r.confidence >= BELIEVED);
	assert_true(nod_nm_detect_is_node(t.detect, &r, 0x481));
	assert_true(nod_nm_detect_is_node(t.detect, &r, 0x401));
	assert_int_equal(r.base, 0x400);
	nod_nm_detect_free(t.detect);
}

/* Base + node in IDs of 29 bits. */
static void test_a_ring_in_extended_ids(void **state)
{
	(void)state;
	static const uint8_t nodes[] = {0x03, 0x21, 0x40};
	struct traffic t = traffic_new(8);

	run_ring(&t, NOD_ID_EXTENDED | 0x1B000200, nodes, 3, 60, 0x02);
	struct nod_nm_detection r = result_of(&t);
	assert_int_equal(r.layout.scheme, NOD_NM_OSEK);
	assert_true(r.confidence >= BELIEVED);
	assert_int_equal(r.base, NOD_ID_EXTENDED | 0x1B000200);
	assert_int_equal(r.nodes, 3);
	nod_nm_detect_free(t.detect);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_a_ring),
		cmocka_unit_test(test_a_ring_that_is_ready_to_sleep_and_numbered_within_64),
		cmocka_unit_test(test_the_ring_ends_before_other_messages),
		cmocka_unit_test(test_named_successors_out_of_order_are_no_ring),
		cmocka_unit_test(test_a_ring_that_is_not_even_is_believed_when_it_was_announced),
		cmocka_unit_test(test_a_few_messages_without_an_operation_hide_no_ring),
		cmocka_unit_test(test_a_number_above_7f_is_a_node_of_its_own),
		cmocka_unit_test(test_a_ring_in_extended_ids),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
