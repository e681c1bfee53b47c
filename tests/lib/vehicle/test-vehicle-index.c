/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "vehicle.h"

/* A vehicle of n modules on 3 networks, some on none or two, whose IDs do not
 * collide: values, ranges, masks of both kinds. Freed by the caller. */
static struct nod_vehicle *invent(unsigned n)
{
	char *text = NULL;
	size_t size;
	FILE *out = open_memstream(&text, &size);
	static const char *const places[] = {"[]", "[a]", "[b, c]", "[c]"};

	fprintf(out, "networks: { a: { management: { scheme: j1939 } }, b: { management: "
		     "{ scheme: osek, ids: 400-4FF } }, c: {} }\nmodules:\n");
	for (unsigned i = 0; i < n; i++)
		fprintf(out,
			"  m%u: { networks: %s, ids: [%03X-%03X, %03X, %08X/1FFFFF00, "
			"0C0%02X000/1FFFF0FF], node: %02X, source address: %02X }\n",
			i, places[i % 4], i * 4, i * 4 + 2, i * 4 + 2, 0x18000000 + i * 0x100, i, i,
			i);
	fclose(out);
	struct nod_error err = {""};
	struct nod_vehicle *v = nod_vehicle_parse(text, size, "invented", &err);
	assert_string_equal(err.text, "");
	free(text);
	return v;
}

/* What the index finds is what looking at every module finds. */
static void test_the_index_agrees_with_a_search(void **state)
{
	(void)state;
	struct nod_vehicle *v = invent(90);
	struct nod_vehicle_index *index = v->index;
	assert_non_null(index);
	uint32_t x = 1;
	unsigned hits = 0;
	for (int i = 0; i < 40000; i++) {
		x = x * 1664525u + 1013904223u;
		uint32_t id = i < 0x800    ? (uint32_t)i
			      : i % 3 == 0 ? (x >> 3 & 0xFFFF) | 0x18000000u | NOD_ID_EXTENDED
			      : i % 3 == 1 ? (x >> 5 & 0x187Fu) | 0x10000000u | NOD_ID_EXTENDED
					   : (x & 0x0007FF00u) | 0x0C000000u | NOD_ID_EXTENDED;
		for (int network = NOD_NONE; network < 3; network++) {
			v->index = index;
			int fast = nod_vehicle_module_of_id(v, network, id);
			v->index = NULL;
			int slow = nod_vehicle_module_of_id(v, network, id);
			if (fast != slow)
				fail_msg("%08X on %d: %d and %d", id, network, fast, slow);
			hits += fast != NOD_NONE;
		}
	}
	assert_true(hits > 10000);
	v->index = index;
	nod_vehicle_free(v);
}

/* A program may make what the loader refuses: the first module wins. */
static void test_colliding_claims_go_to_the_first(void **state)
{
	(void)state;
	struct nod_vehicle *v = invent(3);
	v->modules[2].ids[0].first = 0;
	v->modules[1].ids[0].last = 0x7FF;
	v->modules[1].network_count = v->modules[2].network_count = 0;
	assert_int_equal(nod_vehicle_index(v), 0);
	assert_int_equal(nod_vehicle_module_of_id(v, 0, 0x001), 0);
	assert_int_equal(nod_vehicle_module_of_id(v, 0, 0x005), 1);
	assert_int_equal(nod_vehicle_module_of_id(v, 0, 0x003), 2);
	assert_int_equal(nod_vehicle_module_of_id(v, NOD_NONE, 0x009), 1);
	nod_vehicle_free(v);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_the_index_agrees_with_a_search),
		cmocka_unit_test(test_colliding_claims_go_to_the_first),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
