#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "vehicle-check.h"
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
	"    inputs: [left handle, left lock switch]\n"
	"    cautions: [airbag]\n"
	"    gateway: yes\n"
	"  truck unit: { networks: truck, source address: 21 }\n"
	"networks:\n"
	"  body:\n"
	"    interfaces: [can0, vcan0]\n"
	"    bitrate: 500k\n"
	"    data bitrate: 2M\n"
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

#define NETWORK "networks:\n  body: { interfaces: [can0] }\n"

/* Each error names the file, the line, and what was expected. */
static void test_errors_say_where_and_what(void **state)
{
	(void)state;
	static const struct {
		const char *text, *place, *says;
	} cases[] = {
		{"", "car.yaml:1:1:", "expected at least `networks:`"},
		{"networks:\n  body:\n    sleep within: 5 min\n", "car.yaml:3:5:",
		 "did you mean `sleeps within`?"},
		{"networks:\n  body: { colour: red }\n", "car.yaml:2:11:", "expected one of: interfaces"},
		{"networks:\n  body: { bitrate: fast }\n", "car.yaml:2:20:", "such as `500000`"},
		{"networks:\n  body: { quiet time: soon }\n", "car.yaml:2:", "such as `10 min`"},
		{"networks:\n  body: { management: { scheme: magic } }\n", "car.yaml:2:",
		 "autosar, osek, j1939"},
		{"networks:\n  a: { interfaces: [can0] }\n  b: { interfaces: [can0] }\n",
		 "car.yaml:3:", "belongs to `a` (line 2) already"},
		{NETWORK "  body: {}\n", "car.yaml:3:3:", "stands twice; first on line 2"},
		{NETWORK "modules:\n  a: { ids: [2AF-2A0] }\n", "car.yaml:4:14:", "upside down"},
		{NETWORK "modules:\n  a: { ids: [2A0-000002AF] }\n", "car.yaml:4:", "begins standard"},
		{NETWORK "modules:\n  a: { ids: [800] }\n", "car.yaml:4:", "above 7FF"},
		{NETWORK "modules:\n  a: { ids: [12345] }\n", "car.yaml:4:", "1 to 3 hex digits"},
		{NETWORK "modules:\n  a: { ids: [2A0] }\n  b: { ids: [280-2BF] }\n", "car.yaml:5:",
		 "ID 2A0 is claimed by `b`, but `a` claims it on line 4"},
		{NETWORK "modules:\n  a: { ids: [\"200/701\"] }\n  b: { ids: [203-204] }\n",
		 "car.yaml:5:", "ID 204 is claimed"},
		{NETWORK "modules:\n  a: { node: 12 }\n  b: { node: 12 }\n", "car.yaml:5:",
		 "node 12 is claimed"},
		{NETWORK "modules:\n  a: { fuses: [F9] }\n", "car.yaml:4:", "there is no fuse `F9`"},
		{NETWORK "modules:\n  a: { networks: [heart] }\n", "car.yaml:4:",
		 "there is no network `heart`"},
		{NETWORK "fuses:\n  F1: { rating: 10 }\n", "car.yaml:4:", "rating"},
		{NETWORK "fuses:\n  F1: { rating: 10 mV }\n", "car.yaml:4:", "rating"},
		{NETWORK "modules: [a, b]\n", "car.yaml:3:10:", "found a list"},
		{NETWORK "modules:\n  a: { gateway: perhaps }\n", "car.yaml:4:", "yes or no"},
		{"networks: &x\n  body: {}\nmodules: *x\n", "car.yaml:3:10:", "not allowed"},
		{NETWORK "---\nnetworks: {}\n", "car.yaml:3:1:", "second document"},
		{"networks: {\n", "car.yaml:2:1:", "not YAML"},
	};
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct nod_error err = {""};
		struct nod_vehicle *v = parse(cases[i].text, &err);
		if (v || strncmp(err.text, cases[i].place, strlen(cases[i].place)) ||
		    !strstr(err.text, cases[i].says))
			fail_msg("case %zu: \"%s\" lacks %s ... %s", i, err.text, cases[i].place,
				 cases[i].says);
		assert_int_equal(errno, EINVAL);
	}
}

static void test_a_file_cut_anywhere_is_read_or_refused(void **state)
{
	(void)state;
	for (size_t length = 0; length < sizeof(whole) - 1; length++) {
		struct nod_error err = {""};
		struct nod_vehicle *v = nod_vehicle_parse(whole, length, "cut", &err);
		assert_true(v ? !*err.text : !!*err.text);
		nod_vehicle_free(v);
	}
}

static struct nod_id_rule range(uint32_t first, uint32_t last)
{
	return (struct nod_id_rule){first, last, 0, 0};
}

static struct nod_id_rule masked(uint32_t value, uint32_t mask)
{
	return (struct nod_id_rule){value, 0, mask, 0};
}

/* The overlap of every mask with ranges, against trying all standard IDs. */
static void test_overlap_is_exact(void **state)
{
	(void)state;
	uint32_t x = 12345;
	for (int n = 0; n < 3000; n++) {
		x = x * 1664525u + 1013904223u;
		uint32_t mask = (x >> 8 & 0x7FF) | 1, value = (x >> 19) & mask & 0x7FF;
		uint32_t first = (x >> 3) & 0x7FF, last = first + (x >> 27);
		struct nod_id_rule a = masked(value, mask), b = range(first, last > 0x7FF ? 0x7FF : last);
		bool any = false;
		uint32_t id = 0;
		for (uint32_t i = b.first; i <= b.last; i++)
			any |= (i & mask) == value;
		assert_int_equal(nod_id_rules_overlap(&a, &b, &id), any);
		if (any) {
			assert_in_range(id, b.first, b.last);
			assert_int_equal(id & mask, value);
		}
	}
	uint32_t id;
	struct nod_id_rule p = masked(0x100, 0x700), q = masked(0x101, 0x00F);
	assert_true(nod_id_rules_overlap(&p, &q, &id));
	assert_int_equal(id, 0x101);
	struct nod_id_rule e = range(0x100 | NOD_ID_EXTENDED, 0x7FF | NOD_ID_EXTENDED);
	assert_false(nod_id_rules_overlap(&p, &e, &id));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_every_key_is_read),
		cmocka_unit_test(test_who_sends_an_id),
		cmocka_unit_test(test_what_a_journal_subject_means),
		cmocka_unit_test(test_errors_say_where_and_what),
		cmocka_unit_test(test_a_file_cut_anywhere_is_read_or_refused),
		cmocka_unit_test(test_overlap_is_exact),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
