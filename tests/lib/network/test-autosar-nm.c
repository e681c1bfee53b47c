/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "autosar-nm.h"

/* Base 0x500 and partial network info at offset 4, length 2: an open
 * implementation's example configuration (ssas-public CanNm_Cfg.c). */
static const struct nod_nm_layout usual = {
	.scheme = NOD_NM_AUTOSAR,
	.first_id = 0x500,
	.last_id = 0x53F,
	.ids_given = true,
	.node_byte = 0,
	.control_byte = 1,
	.partial_first = 4,
	.partial_last = 5,
};

static struct nod_frame pdu(uint32_t id, uint64_t data)
{
	struct nod_frame f = {.id = id, .length = 8};

	for (int i = 0; i < 8; i++)
		f.data[i] = (uint8_t)(data >> (56 - 8 * i));
	return f;
}

/* Calculated from the layout above and the masks of wireshark
 * packet-autosar-nm.c. */
static void test_decode_vectors(void **state)
{
	(void)state;
	struct nod_autosar_nm nm;
	struct nod_frame f = pdu(0x510, 0x1001000000000000);

	assert_int_equal(nod_autosar_nm_decode(&nm, &f, &usual), 0);
	assert_int_equal(nm.node, 0x10);
	assert_int_equal(nm.control, NOD_AUTOSAR_NM_REPEAT_MESSAGE);
	assert_false(nm.user_unset);

	f = pdu(0x510, 0x1011FFFFFFFFFFFF);
	assert_int_equal(nod_autosar_nm_decode(&nm, &f, &usual), 0);
	assert_int_equal(nm.control, NOD_AUTOSAR_NM_REPEAT_MESSAGE | NOD_AUTOSAR_NM_ACTIVE_WAKEUP);
	assert_true(nm.user_unset);
	assert_int_equal(nm.partial, 0);
	assert_int_equal(nm.user_mask, 0xFC);

	f = pdu(0x510, 0x1050FFFF55AA0000);
	assert_int_equal(nod_autosar_nm_decode(&nm, &f, &usual), 0);
	assert_int_equal(nm.control, NOD_AUTOSAR_NM_ACTIVE_WAKEUP | NOD_AUTOSAR_NM_PARTIAL);
	assert_int_equal(nm.partial, 0xAA55);
	assert_int_equal(nm.user_mask, 0xCC);

	f = pdu(0x510, 0x1008FFFFFFFFFFFF);
	assert_int_equal(nod_autosar_nm_decode(&nm, &f, &usual), 0);
	assert_int_equal(nm.control, NOD_AUTOSAR_NM_SLEEP_READY);
}

/* Some tools take control first, node second. */
static void test_byte_positions_follow_the_layout(void **state)
{
	(void)state;
	struct nod_nm_layout l = usual;
	struct nod_autosar_nm nm;
	struct nod_frame f = pdu(0x510, 0x1110FFFFFFFFFFFF);

	l.node_byte = 1;
	l.control_byte = 0;
	assert_int_equal(nod_autosar_nm_decode(&nm, &f, &l), 0);
	assert_int_equal(nm.node, 0x10);
	assert_int_equal(nm.control, 0x11);

	l.node_byte = -1;
	l.control_byte = -1;
	l.partial_first = l.partial_last = -1;
	f = pdu(0x507, 0xFFFFFFFFFFFFFFFF);
	assert_int_equal(nod_autosar_nm_decode(&nm, &f, &l), 0);
	assert_int_equal(nm.node, 7);
	assert_false(nm.has_control);
	assert_int_equal(nm.control, 0);
	assert_int_equal(nm.user_mask, 0xFF);
	assert_true(nm.user_unset);
}

static void test_what_is_no_pdu_is_refused(void **state)
{
	(void)state;
	struct nod_autosar_nm nm;
	struct nod_frame f = pdu(0x540, 0);

	assert_int_equal(nod_autosar_nm_decode(&nm, &f, &usual), -EINVAL);
	f = pdu(0x510 | NOD_ID_EXTENDED, 0);
	assert_int_equal(nod_autosar_nm_decode(&nm, &f, &usual), -EINVAL);
	f = pdu(0x510 | NOD_ID_REMOTE, 0);
	assert_int_equal(nod_autosar_nm_decode(&nm, &f, &usual), -EINVAL);
	f = pdu(0x510, 0);
	f.length = 1;
	assert_int_equal(nod_autosar_nm_decode(&nm, &f, &usual), -EINVAL);
	f.length = 65;
	assert_int_equal(nod_autosar_nm_decode(&nm, &f, &usual), -EINVAL);
}

static void test_short_and_long_pdus(void **state)
{
	(void)state;
	struct nod_autosar_nm nm;
	struct nod_frame f = pdu(0x510, 0x1040FFFFFF000000);

	f.length = 5; /* the second byte of partial info is missing */
	assert_int_equal(nod_autosar_nm_decode(&nm, &f, &usual), 0);
	assert_int_equal(nm.partial, 0xFF);
	f.length = 64;
	f.flags = NOD_FRAME_FD;
	struct nod_nm_layout l = usual;
	l.partial_last = 63;
	memset(f.data + 4, 0x81, 60);
	assert_int_equal(nod_autosar_nm_decode(&nm, &f, &l), 0);
	assert_int_equal(nm.partial, 0x8181818181818181);
	assert_int_equal(nm.user_mask, 0x0C);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_decode_vectors),
		cmocka_unit_test(test_byte_positions_follow_the_layout),
		cmocka_unit_test(test_what_is_no_pdu_is_refused),
		cmocka_unit_test(test_short_and_long_pdus),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
