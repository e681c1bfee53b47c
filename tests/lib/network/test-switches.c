/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "payload-take.h"
#include "switches.h"

/* Frames of four bytes, a tenth of a second apart. */
struct message {
	struct nod_payload payload;
	nod_time now;
	uint64_t frames[3];
	uint64_t before[NOD_PAYLOAD_PLANES];
	struct nod_bit_times times;
};

static void begin(struct message *m)
{
	memset(m, 0, sizeof(*m));
	nod_payload_init(&m->payload);
}

static void send(struct message *m, uint32_t word)
{
	struct nod_frame frame = {.id = 0x100, .length = 4, .time = m->now};

	for (int i = 0; i < 4; i++)
		frame.data[i] = (uint8_t)(word >> 8 * i);
	uint64_t moved = nod_payload_take_of(&m->payload, &frame, m->frames);
	nod_bit_times_take(&m->times, moved, m->payload.word, m->now);
	m->frames[0]++;
	m->now.ns += 100 * NOD_NS_PER_MS;
}

static struct nod_data end(struct message *m, bool since)
{
	struct nod_data data = nod_data_of(&m->payload, since ? m->before : NULL, &m->times);

	nod_payload_clear(&m->payload);
	return data;
}

/* How often a contact has moved up to the frame `i`: now and then, as hands and loose contacts do. */
#define MOVES 16
static int moved(int i)
{
	static const int at[MOVES] = {37,  52,  61,  130, 149, 213, 240, 290,
				      301, 355, 371, 420, 433, 500, 561, 580};
	int count = 0;

	while (count < MOVES && at[count] <= i)
		count++;
	return count;
}

static void test_what_never_changes_stands_still(void **state)
{
	(void)state;
	struct message m;
	begin(&m);
	for (int i = 0; i < 100; i++)
		send(&m, 0x12345678);
	assert_int_equal(end(&m, false).kind, NOD_DATA_STILL);
}

static void test_a_bit_that_comes_and_goes_alone_is_a_switch(void **state)
{
	(void)state;
	struct message m;
	begin(&m);
	for (int i = 0; i < 600; i++)
		send(&m, moved(i) % 2 ? 0x00000400 : 0);
	struct nod_data data = end(&m, false);
	assert_int_equal(data.kind, NOD_DATA_SWITCH);
	assert_int_equal(data.bit, 10);
	assert_int_equal(data.changes, MOVES);
}

/* A lamp that flashes, contents that take turns. */
static void test_what_a_clock_moves_is_no_switch(void **state)
{
	(void)state;
	struct message m;
	begin(&m);
	for (int i = 0; i < 600; i++)
		send(&m, i % 20 < 3 ? 0x00000400 : 0);
	assert_true(end(&m, false).kind < NOD_DATA_LOWEST);
}

/* Nor is a switch moved several times a second for minutes. */
static void test_what_is_never_at_rest_may_be_noise(void **state)
{
	(void)state;
	uint32_t noise = 1, bit = 0;
	struct message m;
	begin(&m);
	for (int i = 0; i < 600; i++) {
		noise = noise * 1103515245 + 12345;
		bit ^= noise >> 16 & 3 ? 0 : 0x00000400;
		send(&m, bit);
	}
	assert_int_equal(end(&m, false).kind, NOD_DATA_LOWEST);
}

static void test_two_bits_that_change_together_are_a_switch(void **state)
{
	(void)state;
	static const uint32_t states[] = {0x00100000, 0x00200000, 0, 0x00300000};
	struct message m;
	begin(&m);
	for (int i = 0; i < 600; i++)
		send(&m, states[moved(i) % 4]);
	assert_int_equal(end(&m, false).kind, NOD_DATA_SWITCH);
}

/* A byte with two states, and what else the same contact moves in the message. */
static void test_bits_that_always_move_together_are_a_switch(void **state)
{
	(void)state;
	struct message m;
	begin(&m);
	for (int i = 0; i < 600; i++)
		send(&m, moved(i) % 2 ? 0x4500FF08 : 0);
	struct nod_data data = end(&m, false);
	assert_int_equal(data.kind, NOD_DATA_SWITCH);
	assert_int_equal(data.changes, MOVES);
}

/* A value between two steps where one carries over. */
static void test_a_value_that_carries_over_is_no_switch(void **state)
{
	(void)state;
	struct message m;
	begin(&m);
	for (int i = 0; i < 600; i++)
		send(&m, moved(i) % 2 ? 0x00008000 : 0x00007F00);
	assert_true(end(&m, false).kind < NOD_DATA_LOWEST);
}

/* 0, 1, 2, 1, 0, ...: slowly, as a temperature does. */
static void test_a_value_that_wanders_is_none(void **state)
{
	(void)state;
	struct message m;
	begin(&m);
	for (int i = 0; i < 3000; i++) {
		int t = i / 10 % 40;
		send(&m, (uint32_t)(t < 20 ? t : 40 - t) << 8);
	}
	assert_int_equal(end(&m, false).kind, NOD_DATA_VALUE);
}

static void test_the_lowest_bit_of_a_value_between_two_steps_is_told_apart(void **state)
{
	(void)state;
	struct message m;
	begin(&m);
	for (int i = 0; i < 600; i++)
		send(&m, 0x5A00 | (moved(i) % 2 ? 0x100 : 0));
	assert_int_equal(end(&m, false).kind, NOD_DATA_LOWEST);
}

/* What counts and what checks is known to payload.c. */
static void test_a_counter_is_no_switch(void **state)
{
	(void)state;
	struct message m;
	begin(&m);
	for (int i = 0; i < 600; i++)
		send(&m, (uint32_t)(i & 0xF) << 8);
	struct nod_data data = end(&m, false);
	assert_true(data.kind == NOD_DATA_STILL);
}

/* Many bits that move alone are no row of switches. */
static void test_contents_that_take_turns_are_none(void **state)
{
	(void)state;
	static const uint32_t pages[] = {0x00002200, 0x88000A00, 0x20880000, 0x0A220000,
					 0x02A00800};
	struct message m;
	begin(&m);
	for (int i = 0; i < 600; i++)
		send(&m, pages[i * 7 % 5]);
	assert_true(end(&m, false).kind <= NOD_DATA_VALUE);
}

static void test_only_what_came_since_counts(void **state)
{
	(void)state;
	struct message m;
	begin(&m);
	for (int i = 0; i < 200; i++)
		send(&m, i / 10 % 2 ? 0x00000400 : 0);
	memcpy(m.before, m.payload.planes, sizeof(m.before));
	for (int i = 0; i < 200; i++)
		send(&m, 0);
	assert_true(end(&m, true).kind == NOD_DATA_STILL);
}

/* Byte 0 is a value that wanders, byte 2 a button: the one that changes most tells nothing. */
static void test_a_switch_is_found_beside_a_value(void **state)
{
	(void)state;
	struct message m;
	begin(&m);
	for (int i = 0; i < 200; i++)
		send(&m, (uint32_t)((i * i / 7 + i / 3) & 0x3F) | (i / 50 % 2 ? 0x020000 : 0));
	const struct nod_payload *p = &m.payload;
	assert_true(nod_data_has_switch(p, NULL, 0xFF0000, 3));
	assert_false(nod_data_has_switch(p, NULL, 0xFF0000, 2));   /* it moved oftener */
	assert_false(nod_data_has_switch(p, NULL, 0x0000FF, 200)); /* these are none */
	end(&m, false);
}

/* Low half byte: a message counter; a switch in the upper half is no part of it. */
static void test_a_switch_above_a_message_counter_is_one(void **state)
{
	(void)state;
	struct message m;
	begin(&m);
	for (int i = 0; i < 600; i++)
		send(&m, ((uint32_t)(i & 0xF) << 8) | (moved(i) % 2 ? 0x1000 : 0));
	struct nod_data data = end(&m, false);
	assert_true(data.kind >= NOD_DATA_LOWEST);
	assert_int_equal(data.bit, 12);
}

/* Seconds that count up: what is called its counter ends somewhere, and the bits above that go
 * on with it. */
static void test_the_upper_bits_of_a_clock_are_no_switch(void **state)
{
	(void)state;
	struct message m;
	for (uint32_t length = 600; length <= 12000; length *= 2) {
		begin(&m);
		for (uint32_t i = 0; i < length; i++)
			send(&m, (i / 10 & 0xFF) << 8);
		assert_true(end(&m, false).kind <= NOD_DATA_VALUE);
	}
}

/* Opened, closed and opened: a value between two steps does the same. */
static void test_a_bit_that_moved_three_times_is_told_apart(void **state)
{
	(void)state;
	struct message m;
	begin(&m);
	for (int i = 0; i < 400; i++)
		send(&m, i / 100 % 2 ? 0x00000400 : 0);
	assert_int_equal(end(&m, false).kind, NOD_DATA_LOWEST);
}

/* It stands between two steps of two, and has wandered a little before. */
static void test_a_value_of_even_steps_is_told_apart(void **state)
{
	(void)state;
	struct message m;
	begin(&m);
	for (int i = 0; i < 300; i++)
		send(&m, (uint32_t)(0x40 + i / 50 + (i / 7 % 2 ? 2 : 0)) << 8);
	memcpy(m.before, m.payload.planes, sizeof(m.before));
	for (int i = 300; i < 600; i++)
		send(&m, (uint32_t)(0x40 + (i / 7 % 2 ? 2 : 0)) << 8);
	assert_true(end(&m, true).kind <= NOD_DATA_LOWEST);
}

/* 41 and 43 are one step of two apart, 42 and 44 as well, in other bits. */
static void test_a_carry_across_two_bits_is_no_pair(void **state)
{
	(void)state;
	struct message m;
	begin(&m);
	for (int i = 0; i < 600; i++)
		send(&m, (uint32_t)(i / 7 % 2 ? 0x44 : 0x42) << 8);
	assert_true(end(&m, false).kind <= NOD_DATA_LOWEST);
}

int main(void)
{
	static const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_what_never_changes_stands_still),
		cmocka_unit_test(test_a_bit_that_comes_and_goes_alone_is_a_switch),
		cmocka_unit_test(test_what_a_clock_moves_is_no_switch),
		cmocka_unit_test(test_what_is_never_at_rest_may_be_noise),
		cmocka_unit_test(test_two_bits_that_change_together_are_a_switch),
		cmocka_unit_test(test_bits_that_always_move_together_are_a_switch),
		cmocka_unit_test(test_a_value_that_carries_over_is_no_switch),
		cmocka_unit_test(test_a_value_that_wanders_is_none),
		cmocka_unit_test(test_the_lowest_bit_of_a_value_between_two_steps_is_told_apart),
		cmocka_unit_test(test_a_counter_is_no_switch),
		cmocka_unit_test(test_a_switch_above_a_message_counter_is_one),
		cmocka_unit_test(test_the_upper_bits_of_a_clock_are_no_switch),
		cmocka_unit_test(test_a_bit_that_moved_three_times_is_told_apart),
		cmocka_unit_test(test_a_value_of_even_steps_is_told_apart),
		cmocka_unit_test(test_a_carry_across_two_bits_is_no_pair),
		cmocka_unit_test(test_contents_that_take_turns_are_none),
		cmocka_unit_test(test_only_what_came_since_counts),
		cmocka_unit_test(test_a_switch_is_found_beside_a_value),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
