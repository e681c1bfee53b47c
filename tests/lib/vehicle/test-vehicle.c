/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "vehicle.h"

static struct nod_vehicle *parse(const char *text, struct nod_error *err)
{
	return nod_vehicle_parse(text, strlen(text), "car.yaml", err);
}

static const char whole[] =
	"vehicle: Hatchback, invented\n"
	"limits: { key-off current: 40 mA }\n"
	"battery: { type: agm, capacity: 70 Ah, reserve: 120 min }\n"
	"modules:\n"
	"  door module left:\n"
	"    networks: [body]\n"
	"    ids: [2A0, 2A8-2AF, 18FF0010, \"300/7F0\"]\n"
	"    node: 12\n"
	"    fuses: [F12]\n"
	"    place: in the left front door\n"
	"    inputs: [tailgate switch, tailgate latch]\n"
	"    cautions: [airbag]\n"
	"    gateway: yes\n"
	"  truck unit: { networks: truck, source address: 21 }\n"
	"networks:\n"
	"  body:\n"
	"    interfaces: [can0, vcan0]\n"
	"    bitrate: 500k\n"
	"    data bitrate: 2M\n"
	"    sample point: 80 %\n"
	"    data sample point: 72.5 %\n"
	"    physical layer: fault-tolerant\n"
	"    sleeps within: 10 min\n"
	"    quiet time: 2 s\n"
	"    management: { scheme: autosar, ids: 500-53F, node byte: 1, control byte: 0,\n"
	"                  partial network bytes: 4-5 }\n"
	"  truck: { interfaces: can1, management: { scheme: j1939 } }\n"
	"fuses:\n"
	"  F12: { family: MINI, rating: 7.5 A, box: cabin, feeds: interior lamps,\n"
	"         resistance: 7.4 mOhm, cautions: [alarm] }\n";

static void test_every_key_is_read(void **state)
{
	(void)state;
	struct nod_error err = {""};
	struct nod_vehicle *v = parse(whole, &err);
	assert_string_equal(err.text, "");
	assert_non_null(v);
	assert_string_equal(v->title, "Hatchback, invented");
	assert_int_equal(v->key_off_current_ua, 40000);
	assert_string_equal(v->battery.type, "agm");
	assert_int_equal(v->battery.capacity_mah, 70000);
	assert_int_equal(v->battery.reserve_minutes, 120);
	const struct nod_network *body = &v->networks[0];
	assert_int_equal(body->interface_count, 2);
	assert_int_equal(body->bitrate, 500000);
	assert_int_equal(body->data_bitrate, 2000000);
	assert_int_equal(body->layer, NOD_LAYER_FAULT_TOLERANT);
	assert_int_equal(body->sleeps_within.ns, 600 * NOD_NS_PER_S);
	assert_int_equal(body->quiet_time.ns, 2 * NOD_NS_PER_S);
	assert_int_equal(body->nm.scheme, NOD_NM_AUTOSAR);
	assert_int_equal(body->nm.first_id, 0x500);
	assert_int_equal(body->nm.last_id, 0x53F);
	assert_int_equal(body->nm.node_byte, 1);
	assert_int_equal(body->nm.control_byte, 0);
	assert_int_equal(body->nm.partial_first, 4);
	assert_int_equal(body->nm.partial_last, 5);
	const struct nod_module *door = &v->modules[0];
	assert_string_equal(door->name, "door module left");
	assert_int_equal(door->id_count, 4);
	assert_int_equal(door->nodes[0], 0x12);
	assert_int_equal(door->input_count, 2);
	assert_true(door->gateway);
	assert_true(nod_cautions_contain(door->cautions, door->caution_count, "Airbag"));
	const struct nod_fuse *fuse = &v->fuses[door->fuses[0]];
	assert_string_equal(fuse->family, "mini");
	assert_int_equal(fuse->rating_ma, 7500);
	assert_int_equal(fuse->resistance_uohm, 7400);
	assert_string_equal(fuse->feeds[0], "interior lamps");
	nod_vehicle_free(v);
}

static void test_who_sends_an_id(void **state)
{
	(void)state;
	struct nod_vehicle *v = parse(whole, NULL);
	assert_int_equal(nod_vehicle_module_of_id(v, 0, 0x2A0), 0);
	assert_int_equal(nod_vehicle_module_of_id(v, 0, 0x2A7), NOD_NONE);
	assert_int_equal(nod_vehicle_module_of_id(v, 0, 0x2AF), 0);
	assert_int_equal(nod_vehicle_module_of_id(v, 0, 0x30A), 0); /* by the mask */
	assert_int_equal(nod_vehicle_module_of_id(v, 0, 0x512), 0); /* node 12h of 500-53F */
	assert_int_equal(nod_vehicle_module_of_id(v, 0, 0x18FF0010 | NOD_ID_EXTENDED), 0);
	assert_int_equal(nod_vehicle_module_of_id(v, 0, 0x2A0 | NOD_ID_EXTENDED), NOD_NONE);
	assert_int_equal(nod_vehicle_module_of_id(v, 1, 0x2A0), NOD_NONE); /* other network */
	assert_int_equal(nod_vehicle_module_of_id(v, 1, 0x18FEF121 | NOD_ID_EXTENDED), 1);
	assert_int_equal(nod_vehicle_network_of_interface(v, "vcan0"), 0);
	assert_int_equal(nod_vehicle_network_of_interface(v, "can7"), NOD_NONE);
	nod_vehicle_free(v);
}

static void test_what_a_journal_subject_means(void **state)
{
	(void)state;
	struct nod_vehicle *v = parse(whole, NULL);
	int fuse, module;
	assert_true(nod_vehicle_resolve(v, "fuse f12", &fuse, &module));
	assert_int_equal(fuse, 0);
	assert_int_equal(module, NOD_NONE);
	assert_true(nod_vehicle_resolve(v, "the Door Module Left", &fuse, &module));
	assert_int_equal(module, 0);
	assert_false(nod_vehicle_resolve(v, "F13", &fuse, &module));
	nod_vehicle_free(v);
}

/* Every field but path and lines. */
static void check_round_trip(const struct nod_vehicle *v)
{
	char *first = NULL, *second = NULL;
	size_t first_size, second_size;
	FILE *out = open_memstream(&first, &first_size);
	assert_int_equal(nod_vehicle_write(v, out), 0);
	fclose(out);
	struct nod_error err = {""};
	struct nod_vehicle *again = nod_vehicle_parse(first, first_size, "written", &err);
	assert_string_equal(err.text, "");
	assert_non_null(again);
	out = open_memstream(&second, &second_size);
	assert_int_equal(nod_vehicle_write(again, out), 0);
	fclose(out);
	assert_string_equal(first, second);
	nod_vehicle_free(again);
	free(first);
	free(second);
}

static void test_what_is_written_parses_back(void **state)
{
	(void)state;
	struct nod_vehicle *v = parse(whole, NULL);
	check_round_trip(v);
	nod_vehicle_free(v);
	v = nod_vehicle_load(NOD_CAPTURES "/example-vehicle.yaml", NULL);
	assert_non_null(v);
	check_round_trip(v);
	nod_vehicle_free(v);
	v = nod_vehicle_new();
	assert_int_equal(nod_vehicle_add_network(v, "what: \"is\" this\\ # 1", "can 0"), 0);
	v->networks[0].nm.node_byte = -1;
	v->networks[0].nm.osek_ring = 0x42;
	v->networks[0].sleeps_within = nod_milliseconds(90500);
	v->networks[0].sleeps_within_given = true;
	v->key_off_current_ua = 12345;
	v->key_off_current_given = true;
	check_round_trip(v);
	nod_vehicle_free(v);
}

/* The written text says what the vehicle is; with the test above, so does
 * the parsed one. */
static void test_what_is_written(void **state)
{
	(void)state;
	struct nod_vehicle *v = parse(whole, NULL);
	char *text = NULL;
	size_t size;
	FILE *out = open_memstream(&text, &size);
	assert_int_equal(nod_vehicle_write(v, out), 0);
	fclose(out);
	/* clang-format off */
	static const char *const lines[] = {
		"vehicle: \"Hatchback, invented\"\n", "  key-off current: 40 mA\n",
		"  type: agm\n", "  capacity: 70 Ah\n", "  reserve: 120 min\n",
		"    interfaces: [can0, vcan0]\n", "    bitrate: 500000\n",
		"    data bitrate: 2000000\n", "    sample point: 80.0 %\n",
		"    data sample point: 72.5 %\n", "    physical layer: fault-tolerant\n",
		"    sleeps within: 10 min\n", "    quiet time: 2 s\n", "      scheme: autosar\n",
		"      ids: 500-53F\n", "      node byte: 1\n", "      control byte: 0\n",
		"      partial network bytes: 4-5\n", "    family: mini\n", "    rating: 7.5 A\n",
		"    resistance: 7.4 mOhm\n", "    ids: [2A0, 2A8-2AF, 18FF0010, 300/7F0]\n",
		"    node: [12]\n", "    fuses: [F12]\n", "    inputs: [tailgate switch, tailgate latch]\n",
		"    cautions: [airbag]\n", "    gateway: yes\n", "    source address: [21]\n",
	};
	/* clang-format on */
	for (size_t i = 0; i < sizeof(lines) / sizeof(lines[0]); i++)
		if (!strstr(text, lines[i]))
			fail_msg("lacks %s in:\n%s", lines[i], text);
	free(text);
	nod_vehicle_free(v);
}

static void test_subjects_are_taken_leniently(void **state)
{
	(void)state;
	static const char text[] = "networks: { body: {} }\n"
				   "fuses: { F12: {}, radio: {}, F 1-2: {}, fuse box front: {} }\n"
				   "modules: { door module left: {}, radio: {}, the hub: {} }\n";
	static const struct {
		const char *subject;
		int fuse, module;
	} cases[] = {
		{"F12", 0, NOD_NONE},
		{"  f12 ", 0, NOD_NONE},
		{"the  F12", 0, NOD_NONE},
		{"the fuse F12", 0, NOD_NONE},
		{"the F12 fuse", 0, NOD_NONE},
		{"F 12", NOD_NONE, NOD_NONE}, /* sounds like F12 and like F 1-2 */
		{"F 1-2", 2, NOD_NONE},
		{"radio", 1, NOD_NONE},
		{"fuse radio", 1, NOD_NONE},
		{"the module radio", NOD_NONE, 1},
		{"radio module", NOD_NONE, 1},
		{"fuse box front", 3, NOD_NONE},
		{"The Door-Module  Left", NOD_NONE, 0},
		{"the hub", NOD_NONE, 2},
		{"hub", NOD_NONE, NOD_NONE},
		{"module F12", NOD_NONE, NOD_NONE},
		{"", NOD_NONE, NOD_NONE},
		{"the ", NOD_NONE, NOD_NONE},
	};
	struct nod_vehicle *v = parse(text, NULL);
	assert_non_null(v);
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		int fuse = 9, module = 9;
		bool found = nod_vehicle_resolve(v, cases[i].subject, &fuse, &module);
		if (fuse != cases[i].fuse || module != cases[i].module ||
		    found != (fuse != NOD_NONE || module != NOD_NONE))
			fail_msg("\"%s\" means fuse %d, module %d", cases[i].subject, fuse, module);
	}
	nod_vehicle_free(v);
}

static void test_a_network_can_be_added(void **state)
{
	(void)state;
	struct nod_vehicle *v = parse(
		"networks: { a: { interfaces: can0 } }\n"
		"modules: { x: { ids: 100 }, y: { networks: a, ids: 200 } }\n",
		NULL);
	assert_int_equal(nod_vehicle_add_network(v, "can9", "can9"), 1);
	assert_int_equal(nod_vehicle_network_of_interface(v, "can9"), 1);
	assert_false(v->networks[1].sleeps_within_given);
	assert_int_equal(v->networks[1].sleeps_within.ns,
			 NOD_DEFAULT_SLEEPS_WITHIN_S * NOD_NS_PER_S);
	assert_int_equal(nod_vehicle_module_of_id(v, 1, 0x100), 0); /* may sit on any */
	assert_int_equal(nod_vehicle_module_of_id(v, 1, 0x200), NOD_NONE);
	assert_int_equal(nod_vehicle_module_of_id(v, NOD_NONE, 0x200), 1);
	nod_vehicle_free(v);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_every_key_is_read),
		cmocka_unit_test(test_who_sends_an_id),
		cmocka_unit_test(test_what_a_journal_subject_means),
		cmocka_unit_test(test_subjects_are_taken_leniently),
		cmocka_unit_test(test_a_network_can_be_added),
		cmocka_unit_test(test_what_is_written),
		cmocka_unit_test(test_what_is_written_parses_back),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
