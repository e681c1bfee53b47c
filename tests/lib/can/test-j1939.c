/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "j1939.h"

static void test_ids(void **state)
{
	(void)state;
	static const struct {
		uint32_t id, pgn;
		uint8_t priority, destination, source;
	} rows[] = {
		/* can-utils can-j1939-kickstart.md */
		{0x1823FF40, 0x02300, 6, 0xFF, 0x40},
		{0x18234140, 0x02300, 6, 0x41, 0x40},
		{0x1BFFFF80, 0x3FFFF, 6, 0xFF, 0x80},
		{0x1923FF80, 0x12300, 6, 0xFF, 0x80},
		{0x19234080, 0x12300, 6, 0x40, 0x80},
		{0x1B21FF80, 0x32100, 6, 0xFF, 0x80},
		{0x1B214080, 0x32100, 6, 0x40, 0x80},
		{0x18ECFF80, 0x0EC00, 6, 0xFF, 0x80},
		/* calculated from the masks of wireshark packet-j1939.c */
		{0x0CF00400, 61444, 3, 0xFF, 0},
		{0x18FEF100, 65265, 6, 0xFF, 0},
		{0x18EAFF00, 59904, 6, 0xFF, 0},
		{0x18EEFF21, 60928, 6, 0xFF, 33},
	};
	for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++) {
		struct nod_j1939 j;
		assert_true(nod_j1939_decode(&j, rows[i].id | NOD_ID_EXTENDED));
		assert_int_equal(j.pgn, rows[i].pgn);
		assert_int_equal(j.priority, rows[i].priority);
		assert_int_equal(j.destination, rows[i].destination);
		assert_int_equal(j.source, rows[i].source);
	}
}

static void test_what_is_not_j1939(void **state)
{
	(void)state;
	struct nod_j1939 j;

	assert_false(nod_j1939_decode(&j, 0x123));
	assert_false(nod_j1939_decode(&j, 0x18FEF100 | NOD_ID_EXTENDED | NOD_ID_REMOTE));
	assert_false(nod_j1939_decode(&j, 0x18FEF100 | NOD_ID_EXTENDED | NOD_ID_ERROR));
}

static void test_broadcast_announcement(void **state)
{
	(void)state;
	/* can-j1939-kickstart.md: 20 bytes in 3 packets, PGN 12300 in the last three bytes,
	 * lowest first. */
	static const uint8_t data[8] = {0x20, 0x14, 0x00, 0x03, 0xFF, 0x00, 0x23, 0x01};

	assert_int_equal(nod_j1939_pgn_decode(data + 5), 0x12300);
	assert_string_equal(nod_j1939_pgn_name(0x0EC00), "transport, connection management");
}

static void test_preferred_addresses(void **state)
{
	(void)state;
	/* wireshark packet-j1939.c */
	assert_string_equal(nod_j1939_address_name(0), "Engine #1");
	assert_string_equal(nod_j1939_address_name(3), "Transmission #1");
	assert_string_equal(nod_j1939_address_name(11), "Brakes - System Controller");
	assert_string_equal(nod_j1939_address_name(23), "Instrument Cluster #1");
	assert_string_equal(nod_j1939_address_name(33), "Body Controller");
	assert_string_equal(nod_j1939_address_name(49), "Cab Controller - Primary");
	assert_string_equal(nod_j1939_address_name(61), "Exhaust Emission Controller");
	assert_string_equal(nod_j1939_address_name(77), "Steering Column Unit");
	assert_string_equal(nod_j1939_address_name(89), "Atmospheric Sensor");
	assert_null(nod_j1939_address_name(90));
	assert_null(nod_j1939_address_name(128));
	assert_null(nod_j1939_address_name(247));
	assert_string_equal(nod_j1939_address_name(248), "File Server/Printer");
	assert_string_equal(nod_j1939_address_name(251), "On-Board Data Logger");
	assert_string_equal(nod_j1939_address_name(255), "all units");
	for (unsigned a = 0; a < 90; a++)
		assert_non_null(nod_j1939_address_name((uint8_t)a));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_ids),
		cmocka_unit_test(test_what_is_not_j1939),
		cmocka_unit_test(test_broadcast_announcement),
		cmocka_unit_test(test_preferred_addresses),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
