/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "sim/payload.h"

/* CRC-8 of "123456789", init and final FFh: 4B with polynomial 1Dh (SAE J1850)
 * and DF with 2Fh, the check values of both in the AUTOSAR CRC library
 * specification (from memory). The data ID stands for the first character. */
static void test_crc_check_values(void **state)
{
	(void)state;
	struct sim_payload p = {.length = 8, .data_id = '1', .checksum_byte = SIM_NO_BYTE};
	memcpy(p.data, "23456789", 8);
	assert_int_equal(sim_payload_crc(&p, 0x1D), 0x4B);
	assert_int_equal(sim_payload_crc(&p, 0x2F), 0xDF);
}

static void test_counter_counts_in_its_bits(void **state)
{
	(void)state;
	struct sim_random random;
	struct sim_payload p = {.length = 8,
				.counter_byte = 1,
				.counter_bits = 4,
				.checksum_byte = SIM_NO_BYTE,
				.value_byte = SIM_NO_BYTE,
				.toggle_bit = -1};
	sim_random_seed(&random, 1, 1);
	p.data[1] = 0xAE;
	sim_payload_next(&p, &random, false);
	assert_int_equal(p.data[1], 0xAF);
	sim_payload_next(&p, &random, false);
	assert_int_equal(p.data[1], 0xA0);
	p.counter_bits = 8;
	p.data[1] = 0xFF;
	sim_payload_next(&p, &random, false);
	assert_int_equal(p.data[1], 0x00);
}

/* A value that is not to move while parked leaves only counter and checksum. */
static void test_parked_payload_stands_still(void **state)
{
	(void)state;
	struct sim_random random;
	for (uint64_t seed = 0; seed < 200; seed++) {
		struct sim_payload p;
		sim_random_seed(&random, seed, 1);
		sim_payload_invent(&p, &random, 8);
		p.value_parked = false;
		sim_payload_next(&p, &random, true);
		uint8_t before[8];
		memcpy(before, p.data, 8);
		sim_payload_next(&p, &random, true);
		for (int i = 0; i < 8; i++)
			if (i != p.counter_byte && i != p.checksum_byte)
				assert_int_equal(p.data[i], before[i]);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_crc_check_values),
		cmocka_unit_test(test_counter_counts_in_its_bits),
		cmocka_unit_test(test_parked_payload_stands_still),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
