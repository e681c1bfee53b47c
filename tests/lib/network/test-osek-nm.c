/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "osek-nm.h"

/* Base 0x400 + node: an open implementation's example configuration
 * (ssas-public OsekNm_Cfg.c); its operation codes (OsekNm.c). */
static const struct nod_nm_layout usual = {
	.scheme = NOD_NM_OSEK,
	.first_id = 0x400,
	.last_id = 0x43F,
	.osek_alive = 0x01,
	.osek_ring = 0x02,
	.osek_limp_home = 0x04,
	.osek_sleep_indication = 0x10,
	.osek_sleep_acknowledge = 0x20,
};

static struct nod_frame message(uint32_t id, uint8_t destination, uint8_t opcode)
{
	return (struct nod_frame){.id = id, .length = 8, .data = {destination, opcode}};
}

static void test_operation_codes(void **state)
{
	(void)state;
	static const struct {
		uint8_t opcode;
		bool request, alive, ring, limp_home, indication, acknowledge;
	} rows[] = {
		{0x01, false, .alive = true},
		{0x02, true, .ring = true},
		{0x04, true, .limp_home = true},
		{0x11, false, .alive = true, .indication = true},
		{0x12, false, .ring = true, .indication = true},
		{0x14, false, .limp_home = true, .indication = true},
		{0x32, false, .ring = true, .indication = true, .acknowledge = true},
	};
	for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++) {
		struct nod_frame f = message(0x401, 0x16, rows[i].opcode);
		struct nod_osek_nm nm;
		assert_int_equal(nod_osek_nm_decode(&nm, &f, &usual), 0);
		assert_int_equal(nod_osek_nm_is_request(&nm), rows[i].request);
		assert_int_equal(nm.alive, rows[i].alive);
		assert_int_equal(nm.ring, rows[i].ring);
		assert_int_equal(nm.limp_home, rows[i].limp_home);
		assert_int_equal(nm.sleep_indication, rows[i].indication);
		assert_int_equal(nm.sleep_acknowledge, rows[i].acknowledge);
		assert_false(nm.unknown_bits);
	}
}

static void test_source_and_destination(void **state)
{
	(void)state;
	struct nod_osek_nm nm;
	struct nod_frame f = message(0x420, 0x21, 0x02);

	/* "Network management part 2: OSEK", canbushack.com, 2010: ID 420 is node 20. */
	assert_int_equal(nod_osek_nm_decode(&nm, &f, &usual), 0);
	assert_int_equal(nm.source, 0x20);
	assert_int_equal(nm.destination, 0x21);
	assert_true(nm.ring);
	assert_false(nm.alive);
}

static void test_another_coding(void **state)
{
	(void)state;
	struct nod_nm_layout l = usual;
	struct nod_osek_nm nm;
	struct nod_frame f = message(0x401, 0x16, 0xC0);

	l.osek_ring = 0x80;
	l.osek_sleep_indication = 0x40;
	assert_int_equal(nod_osek_nm_decode(&nm, &f, &l), 0);
	assert_true(nm.ring);
	assert_true(nm.sleep_indication);
	f.data[1] = 0xC2;
	assert_int_equal(nod_osek_nm_decode(&nm, &f, &usual), 0);
	assert_true(nm.unknown_bits);
}

static void test_what_is_no_message_is_refused(void **state)
{
	(void)state;
	struct nod_osek_nm nm;
	struct nod_frame f = message(0x440, 1, 2);

	assert_int_equal(nod_osek_nm_decode(&nm, &f, &usual), -EINVAL);
	f = message(0x401 | NOD_ID_EXTENDED, 1, 2);
	assert_int_equal(nod_osek_nm_decode(&nm, &f, &usual), -EINVAL);
	f = message(0x401 | NOD_ID_REMOTE, 1, 2);
	assert_int_equal(nod_osek_nm_decode(&nm, &f, &usual), -EINVAL);
	f = message(0x401, 1, 0x30);
	assert_int_equal(nod_osek_nm_decode(&nm, &f, &usual), -EINVAL);
	f = message(0x401, 1, 2);
	f.length = 1;
	assert_int_equal(nod_osek_nm_decode(&nm, &f, &usual), -EINVAL);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_operation_codes),
		cmocka_unit_test(test_source_and_destination),
		cmocka_unit_test(test_another_coding),
		cmocka_unit_test(test_what_is_no_message_is_refused),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
