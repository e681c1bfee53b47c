/* SPDX-License-Identifier: MIT */
#include "payload-sender.h"

#include <endian.h>

static void test_constant_payload(void **state)
{
	(void)state;
	struct sender s = sender_new(4);

	for (int i = 0; i < 100; i++)
		assert_int_equal(send(&s), 0);
	assert_true(roles_of(&s).constant == 0xFFFFFFFF);
	assert_true(roles_of(&s).changing == 0);
	assert_int_equal(nod_payload_toggles(&s.payload, 3), 0);
	assert_false(nod_time_is_set(nod_payload_last_toggle(&s.payload, 3)));
	nod_payload_clear(&s.payload);
}

static void check_counter(unsigned first_bit, unsigned width, unsigned from, unsigned to)
{
	struct sender s = sender_new(8);
	unsigned value = from;
	uint64_t mask = ((UINT64_C(1) << width) - 1) << first_bit, late = 0;

	for (int i = 0; i < 3000; i++) {
		uint64_t word = UINT64_C(0x0123456789ABCDEF) & ~mask;
		word = htole64(word | (uint64_t)value << first_bit);
		memcpy(s.frame.data, &word, 8);
		uint64_t real = send(&s);
		late |= i > 20 ? real : 0;
		value = value == to ? from : value + 1;
	}
	struct nod_payload_roles r = roles_of(&s);
	assert_true(r.decided);
	assert_true(late == 0);
	assert_true((r.counter & ~mask) == 0);
	assert_true((r.counter | r.constant) == ~UINT64_C(0));
	assert_true(r.changing == 0);
	assert_int_equal(r.counter_first, first_bit);
	assert_int_equal(r.counter_modulus, to - from + 1);
	nod_payload_clear(&s.payload);
}

static void test_counters(void **state)
{
	(void)state;
	check_counter(0, 4, 0, 15);   /* low half of byte 0 */
	check_counter(52, 4, 0, 15);  /* high half of byte 6 */
	check_counter(48, 4, 0, 14);  /* wraps at 15 */
	check_counter(48, 4, 1, 15);  /* leaves 0 out */
	check_counter(8, 4, 0, 9);    /* decimal */
	check_counter(56, 8, 0, 255); /* a byte */
	check_counter(56, 8, 0, 254);
	check_counter(16, 2, 0, 3);
	check_counter(16, 11, 0, 2047);
}

static void check_wide(bool big, int frames)
{
	struct sender s = sender_new(8);
	uint64_t late = 0;

	for (int i = 0; i < frames; i++) {
		unsigned value = (unsigned)i + 0x5678;
		s.frame.data[3] = (uint8_t)(big ? value >> 8 : value);
		s.frame.data[4] = (uint8_t)(big ? value : value >> 8);
		uint64_t real = send(&s);
		late |= i > 20 ? real : 0;
	}
	assert_true(late == 0);
	assert_true(roles_of(&s).changing == 0);
	assert_true((roles_of(&s).counter & ~UINT64_C(0xFFFF000000)) == 0);
	nod_payload_clear(&s.payload);
}

static void test_wide_counters_in_both_byte_orders(void **state)
{
	(void)state;
	check_wide(false, 200);
	check_wide(true, 200);
	check_wide(false, 140000);
	check_wide(true, 140000);
}

static void test_a_bit_above_a_nibble_counter_is_payload(void **state)
{
	(void)state;
	struct sender s = sender_new(8);
	unsigned seen = 0;

	for (unsigned i = 0; i < 400; i++) {
		/* changes in the very frame in which the counter wraps */
		s.frame.data[1] = (uint8_t)(i % 16 | (i >= 320 ? 0x10 : 0));
		seen += send(&s) == 0x1000;
	}
	assert_int_equal(seen, 1);
	assert_true(roles_of(&s).counter == 0x0F00);
	assert_true(roles_of(&s).changing == 0x1000);
	assert_int_equal(nod_payload_toggles(&s.payload, 12), 1);
	assert_int_equal(nod_payload_last_toggle(&s.payload, 12).ns, 321 * 100 * MS);
	nod_payload_clear(&s.payload);
}

static void test_measured_values_are_payload(void **state)
{
	(void)state;
	struct sender s = sender_new(8);
	int value = 0x1234;
	unsigned changes = 0, seen = 0;

	for (int i = 0; i < 2000; i++) {
		int step = (int)(random_next(&s) % 7) - 3;
		value += step;
		s.frame.data[4] = (uint8_t)(value >> 8);
		s.frame.data[5] = (uint8_t)value;
		s.frame.data[7] = (uint8_t)(random_next(&s) % 4);
		uint8_t before = (uint8_t)(s.payload.word >> 40);
		uint64_t real = send(&s);
		changes += i > 0 && before != s.frame.data[5];
		seen += (real >> 40 & 0xFF) != 0;
	}
	assert_true(roles_of(&s).counter == 0);
	assert_true(roles_of(&s).checksum == 0);
	assert_int_equal(seen, changes);
	nod_payload_clear(&s.payload);
}

static void test_a_measured_value_where_a_checksum_could_be_is_payload(void **state)
{
	(void)state;
	for (unsigned at = 0; at < 8; at += 7)
		for (unsigned range = 4; range <= 256; range *= 2) {
			struct sender s = sender_new(8);
			for (unsigned i = 0; i < 700; i++) {
				s.frame.data[3] = (uint8_t)(i % 16);
				s.frame.data[at] = (uint8_t)(random_next(&s) % range);
				send(&s);
			}
			assert_true(roles_of(&s).checksum == 0);
			assert_true(roles_of(&s).counter == 0x0F000000);
			nod_payload_clear(&s.payload);
		}
}

static void test_random_bytes_without_counter_are_payload(void **state)
{
	(void)state;
	unsigned wrong = 0;

	for (unsigned run = 0; run < 200; run++) {
		struct sender s = sender_new(8);
		s.seed = run * 7919 + 1;
		for (int i = 0; i < 80; i++) {
			for (int k = 0; k < 8; k++)
				s.frame.data[k] = (uint8_t)random_next(&s);
			send(&s);
		}
		struct nod_payload_roles r = roles_of(&s);
		wrong += (r.counter | r.checksum) != 0;
		nod_payload_clear(&s.payload);
	}
	assert_int_equal(wrong, 0);
}

static void test_a_switch_that_alternates_is_payload(void **state)
{
	(void)state;
	struct sender s = sender_new(2);

	for (int i = 0; i < 40; i++) {
		s.frame.data[0] ^= 0x10;
		assert_int_equal(send(&s), i ? 0x10 : 0);
	}
	assert_int_equal(nod_payload_toggles(&s.payload, 4), 39);
	nod_payload_clear(&s.payload);
}

static void test_a_stuck_and_a_toggling_bit(void **state)
{
	(void)state;
	struct sender s = sender_new(8);
	unsigned toggles = 0;

	for (unsigned i = 0; i < 1000; i++) {
		s.frame.data[0] = (uint8_t)(i % 15);
		s.frame.data[2] = (uint8_t)(i / 37 % 2 * 0x80);
		fill_checksum(&s, NOD_CHECKSUM_CRC8_1D, 7);
		toggles += (unsigned)(send(&s) >> 23 & 1);
	}
	assert_int_equal(toggles, 999 / 37);
	assert_int_equal(nod_payload_toggles(&s.payload, 23), 999 / 37);
	assert_int_equal(nod_payload_last_toggle(&s.payload, 23).ns, 1000 * 100 * MS);
	assert_true(roles_of(&s).changing == 0x800000);
	nod_payload_clear(&s.payload);
}

static void test_a_clean_counter_is_known_after_8_changes(void **state)
{
	(void)state;
	struct sender s = sender_new(8);

	for (unsigned i = 0; i < 20; i++) {
		s.frame.data[6] = (uint8_t)(i % 16);
		fill_checksum(&s, NOD_CHECKSUM_CRC8_2F, 7);
		assert_true(!send(&s) == (i == 0 || i >= 8));
		assert_int_equal(roles_of(&s).unsure, i < 7 ? i : 7);
	}
	assert_false(roles_of(&s).decided);
	nod_payload_clear(&s.payload);
}

static void test_lost_frames_do_not_end_a_counter(void **state)
{
	(void)state;
	struct sender s = sender_new(8);
	unsigned value = 0;

	for (unsigned i = 0; i < 1000; i++) {
		value += random_next(&s) % 20 ? 1 : 3;
		s.frame.data[6] = (uint8_t)(value % 16);
		fill_checksum(&s, NOD_CHECKSUM_XOR, 7);
		uint64_t real = send(&s);
		assert_true(i < 20 || !real);
	}
	nod_payload_clear(&s.payload);
}

/* A checksum of an unknown kind behind its counter, whose highest bit alternates: a counter's lowest
 * bit follows no bit of it. */
static void test_what_is_calculated_from_the_counter_before_it_is_no_payload(void **state)
{
	(void)state;
	static const uint8_t calculated[16] = {0xB0, 0x3F, 0xB3, 0x3C, 0xB6, 0x39, 0xB5, 0x3A,
					       0xBC, 0x33, 0xBF, 0x30, 0xBA, 0x35, 0xB9, 0x36};
	struct sender s = sender_new(4);

	for (unsigned i = 0; i < 1000; i++) {
		s.frame.data[0] = (uint8_t)(0x70 | i % 16);
		s.frame.data[1] = calculated[i % 16];
		uint64_t real = send(&s);
		assert_true(i < 40 || !real);
	}
	assert_true(roles_of(&s).changing == 0);
	nod_payload_clear(&s.payload);
}

static void test_a_role_that_is_contradicted_ends(void **state)
{
	(void)state;
	struct sender s = sender_new(8);

	for (unsigned i = 0; i < 200; i++) {
		s.frame.data[6] = (uint8_t)i;
		send(&s);
	}
	assert_true(roles_of(&s).counter != 0);
	for (unsigned i = 0; i < 300; i++) {
		s.frame.data[6] = (uint8_t)(random_next(&s) % 64);
		send(&s);
	}
	assert_true(roles_of(&s).counter == 0);
	assert_true(roles_of(&s).changing != 0);
	nod_payload_clear(&s.payload);
}

static void test_a_counter_that_starts_late_is_found(void **state)
{
	(void)state;
	struct sender s = sender_new(8);

	for (unsigned i = 0; i < 200; i++) {
		s.frame.data[0] = (uint8_t)(random_next(&s) % 32);
		send(&s);
	}
	for (unsigned i = 0; i < 400; i++) {
		s.frame.data[6] = (uint8_t)(i % 16);
		send(&s);
	}
	assert_true(roles_of(&s).counter == UINT64_C(0x0F) << 48);
	nod_payload_clear(&s.payload);
}

static void test_odd_input(void **state)
{
	(void)state;
	struct sender s = sender_new(8);

	for (unsigned i = 0; i < 300; i++) {
		s.frame.length = (uint8_t)(i % 9);
		memset(s.frame.data, 0, 8);
		for (unsigned k = 0; k < s.frame.length; k++)
			s.frame.data[k] = (uint8_t)random_next(&s);
		send(&s);
	}
	assert_true((roles_of(&s).counter | roles_of(&s).checksum) == 0);
	s.frame.id |= NOD_ID_REMOTE;
	s.frame.data[0] ^= 1;
	assert_int_equal(send(&s), 0);
	s.frame.time.ns = INT64_MIN + 1;
	s.frame.id = 0x2A0;
	assert_int_not_equal(send(&s), 0);
	nod_payload_clear(&s.payload);
	assert_int_equal(nod_payload_toggles(&s.payload, 64), 0);
}

static void test_long_frames(void **state)
{
	(void)state;
	struct sender s = sender_new(64);

	s.frame.flags = NOD_FRAME_FD;
	for (unsigned i = 0; i < 300; i++) {
		s.frame.data[2] = (uint8_t)i;
		uint64_t real = send(&s);
		assert_true(i < 20 || !real);
	}
	assert_false(roles_of(&s).above_changed);
	s.frame.data[63] = 1;
	send(&s);
	assert_true(roles_of(&s).above_changed);
	nod_payload_clear(&s.payload);
}

static void test_memory_per_message(void **state)
{
	(void)state;
	assert_true(sizeof(struct nod_payload) <= 600);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_constant_payload),
		cmocka_unit_test(test_counters),
		cmocka_unit_test(test_wide_counters_in_both_byte_orders),
		cmocka_unit_test(test_a_bit_above_a_nibble_counter_is_payload),
		cmocka_unit_test(test_measured_values_are_payload),
		cmocka_unit_test(test_a_measured_value_where_a_checksum_could_be_is_payload),
		cmocka_unit_test(test_random_bytes_without_counter_are_payload),
		cmocka_unit_test(test_a_switch_that_alternates_is_payload),
		cmocka_unit_test(test_a_stuck_and_a_toggling_bit),
		cmocka_unit_test(test_a_clean_counter_is_known_after_8_changes),
		cmocka_unit_test(test_lost_frames_do_not_end_a_counter),
		cmocka_unit_test(test_what_is_calculated_from_the_counter_before_it_is_no_payload),
		cmocka_unit_test(test_a_role_that_is_contradicted_ends),
		cmocka_unit_test(test_a_counter_that_starts_late_is_found),
		cmocka_unit_test(test_odd_input),
		cmocka_unit_test(test_long_frames),
		cmocka_unit_test(test_memory_per_message),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
