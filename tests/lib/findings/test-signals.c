/* SPDX-License-Identifier: MIT */
/* What bits are called. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "signals.h"

static const char map[] =
	"networks: { body: { interfaces: can0 } }\n"
	"messages:\n"
	"  Tailgate:\n"
	"    id: 418\n"
	"    signals:\n"
	"      Switch: { at: byte 4 bit 5, values: { 0: closed, 1: open } }\n"
	"      Angle: { at: byte 0 bit 7, bits: 16, byte order: big, factor: 0.1, unit: deg }\n"
	"      Page: { at: byte 6 bit 0, bits: 4 }\n"
	"      One: { at: byte 7 bit 0, bits: 8, when: { Page: 1 } }\n"
	"      Two: { at: byte 7 bit 0, bits: 8, when: { Page: 2 } }\n"
	"      All: { at: byte 4 bit 0, bits: 8 }\n";

struct scene {
	struct nod_findings f;
	struct nod_network_finding network;
	struct nod_ident_finding ident;
	struct nod_vehicle *vehicle;
};

static int set_up(void **state)
{
	static struct scene s;

	s = (struct scene){.network = {.name = "body", .network = 0},
			   .ident = {.id = 0x418, .length = 8}};
	s.vehicle = nod_vehicle_parse(map, strlen(map), "car.yaml", NULL);
	assert_non_null(s.vehicle);
	s.f.vehicle = s.vehicle;
	s.f.networks = &s.network;
	s.f.network_count = 1;
	*state = &s;
	return 0;
}

static int tear_down(void **state)
{
	nod_vehicle_free(((struct scene *)*state)->vehicle);
	return 0;
}

static void test_moves(void **state)
{
	struct scene *s = *state;
	char text[NOD_SIGNAL_TEXT];
	const uint64_t open = UINT64_C(1) << 37;

	assert_string_equal(nod_signals_print_move(text, &s->f, &s->ident, 37, 0, open),
			    "Switch went closed → open (418)");
	assert_string_equal(nod_signals_print_move(text, &s->f, &s->ident, 8, 0, 0x3201),
			    "Angle went 0 deg → 30.6 deg (418)");
	assert_string_equal(nod_signals_print_move(text, &s->f, &s->ident, 16, 0, 0x10000),
			    "418 byte 2 bit 0 went 0 → 1");
}

static void test_what_a_frame_does_not_have(void **state)
{
	struct scene *s = *state;
	const uint64_t page_one = UINT64_C(1) << 48, page_two = UINT64_C(2) << 48;

	assert_string_equal(nod_signals_of_bit(&s->f, &s->ident, 56, page_one)->name, "One");
	assert_string_equal(nod_signals_of_bit(&s->f, &s->ident, 56, page_two)->name, "Two");
	s->ident.id = 0x419;
	assert_null(nod_signals_of_bit(&s->f, &s->ident, 37, 0));
}

static void test_masks(void **state)
{
	struct scene *s = *state;
	char text[NOD_SIGNAL_TEXT];
	const uint64_t mask = UINT64_C(1) << 37 | 0x8180 | UINT64_C(1) << 16;

	assert_string_equal(nod_signals_print_mask(text, sizeof(text), &s->f, &s->ident, mask),
			    "Angle, byte 2 bit 0, Switch");
	assert_string_equal(nod_signals_print_mask(text, 16, &s->f, &s->ident, mask), "Angle, ...");
	assert_true(nod_signals_same(&s->f, &s->ident, mask) == 0x8180);
	assert_true(nod_signals_same(&s->f, &s->ident, mask & ~UINT64_C(0xFFFF)) == 0x10000);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_setup_teardown(test_moves, set_up, tear_down),
		cmocka_unit_test_setup_teardown(test_what_a_frame_does_not_have, set_up, tear_down),
		cmocka_unit_test_setup_teardown(test_masks, set_up, tear_down),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
