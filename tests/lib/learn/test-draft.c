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

#include "draft.h"
#include "vehicle.h"

struct bench {
	struct nod_draft *draft;
	struct nod_interfaces names;
};

static struct bench bench_new(void)
{
	struct bench b = {.draft = nod_draft_new(),
			  .names = {.count = 2, .names = {"can0", "can1"}}};
	assert_non_null(b.draft);
	return b;
}

static void feed(struct bench *b, int64_t ms, uint8_t interface, uint32_t id, const char *bytes,
		 uint8_t length)
{
	struct nod_event event = {.kind = NOD_EVENT_FRAME,
				  .time = {1700000000 * NOD_NS_PER_S + ms * NOD_NS_PER_MS}};
	event.frame = (struct nod_frame){
		.time = event.time, .id = id, .length = length, .interface = interface};
	memcpy(event.frame.data, bytes, length);
	assert_int_equal(nod_draft_take(b->draft, &event), 0);
}

/* The draft as text (to free) and as the loader reads it (to free). */
static struct nod_vehicle *finish(struct bench *b, char **text)
{
	struct nod_error err = {""};
	size_t size;
	FILE *out = open_memstream(text, &size);
	assert_int_equal(nod_draft_write(b->draft, &b->names, out), 0);
	fclose(out);
	nod_draft_free(b->draft);
	struct nod_vehicle *v = nod_vehicle_parse(*text, size, "draft", &err);
	assert_string_equal(err.text, "");
	for (const char *line = *text; *line;) {
		size_t length = strcspn(line, "\n");
		assert_true(length <= 80);
		line += length + 1;
	}
	return v;
}

static int module_of(const struct nod_vehicle *v, const char *network, uint32_t id)
{
	return nod_vehicle_module_of_id(v, nod_vehicle_network_of_interface(v, network), id);
}

static void test_neighbours_heard_together_are_one_group(void **state)
{
	(void)state;
	struct bench b = bench_new();
	for (int64_t ms = 0; ms < 60000; ms += 100) {
		feed(&b, ms, 0, 0x100, "\1\2\3", 3);
		feed(&b, ms, 0, 0x102, "\1\2\3", 3);
		if (ms < 30000)
			feed(&b, ms, 0, 0x103, "\1", 1); /* close, but silent in between */
		feed(&b, ms, 0, 0x10F, "\1\2", 2);       /* near, of the same period */
		if (!(ms % 1000))
			feed(&b, ms, 0, 0x11A, "\1\2", 2); /* near, of another period */
		feed(&b, ms, 0, 0x200, "\xAB\2\3\4\5\6\7\x08", 8);
		feed(&b, ms, 1, 0x101, "\1\2", 2);
	}
	char *text;
	struct nod_vehicle *v = finish(&b, &text);
	int first = module_of(v, "can0", 0x100);
	assert_true(first != NOD_NONE);
	assert_int_equal(module_of(v, "can0", 0x102), first);
	assert_int_not_equal(module_of(v, "can0", 0x103), first);
	assert_int_not_equal(module_of(v, "can0", 0x11A), module_of(v, "can0", 0x10F));
	assert_int_not_equal(module_of(v, "can0", 0x200), first);
	assert_int_not_equal(module_of(v, "can1", 0x101), NOD_NONE);
	assert_int_equal(module_of(v, "can1", 0x100), NOD_NONE);
	assert_int_equal(v->network_count, 2);
	assert_non_null(strstr(text, "    - 200       # 8 B    100 ms               600 x  "
				     "AB 02 03 04 05 06 07 08\n"));
	nod_vehicle_free(v);
	free(text);
}

static void test_truck_units_by_source_address(void **state)
{
	(void)state;
	struct bench b = bench_new();
	static const uint32_t ids[] = {0x0CF00400, 0x18FEF100, 0x18FEEE00, 0x18FEF121,
				       0x18FEF721, 0x18FEFA0B, 0x18F0010B};
	for (int64_t ms = 0; ms < 30000; ms += 100)
		for (size_t i = 0; i < sizeof(ids) / sizeof(ids[0]); i++)
			feed(&b, ms, 0, ids[i] | NOD_ID_EXTENDED, "\1\2\3\4\5\6\7\x08", 8);
	char *text;
	struct nod_vehicle *v = finish(&b, &text);
	assert_int_equal(v->networks[0].nm.scheme, NOD_NM_J1939);
	assert_int_equal(v->module_count, 3);
	assert_string_equal(v->modules[module_of(v, "can0", 0x18FEF121 | NOD_ID_EXTENDED)].name,
			    "unit 21 on can0");
	/* also what the recording did not hold */
	assert_string_equal(v->modules[module_of(v, "can0", 0x1CABCD00 | NOD_ID_EXTENDED)].name,
			    "unit 00 on can0");
	nod_vehicle_free(v);
	free(text);
}

static void test_ring_nodes_are_modules(void **state)
{
	(void)state;
	struct bench b = bench_new();
	static const char nodes[] = {0x00, 0x01, 0x16, 0x1E};
	for (int i = 0; i < 400; i++) {
		char bytes[8] = {nodes[(i + 1) % 4], 0x02};
		feed(&b, i * 90, 1, 0x400u + (unsigned)nodes[i % 4], bytes, 8);
		feed(&b, i * 90 + 5, 1, 0x123, "\1", 1);
	}
	char *text;
	struct nod_vehicle *v = finish(&b, &text);
	assert_int_equal(v->networks[0].nm.scheme, NOD_NM_OSEK);
	assert_true(v->networks[0].nm.ids_given);
	assert_string_equal(v->modules[module_of(v, "can1", 0x416)].name, "node 16 on can1");
	assert_int_equal(v->modules[module_of(v, "can1", 0x416)].nodes[0], 0x16);
	assert_string_equal(v->modules[module_of(v, "can1", 0x123)].name, "group 1 on can1");
	assert_int_equal(v->module_count, 5);
	nod_vehicle_free(v);
	free(text);
}

static void test_testers_are_left_out(void **state)
{
	(void)state;
	struct bench b = bench_new();
	for (int i = 0; i < 50; i++) {
		feed(&b, i * 700, 0, 0x7DF, "\x02\x01\x0C\0\0\0\0\0", 8);
		feed(&b, i * 700 + 20, 0, 0x7E8, "\x04\x41\x0C\x12\x34\0\0\0", 8);
		feed(&b, i * 700 + 30, 0, 0x751, "\x02\x10\x03\0\0\0\0\0", 8);
		feed(&b, i * 700 + 40, 0, 0x759, "\x02\x50\x03\xAA\xAA\xAA\xAA\xAA", 8);
		feed(&b, i * 700 + 50, 0, 0x760, "\xFF\x10\x03\0\0\0\0\0", 8);
	}
	char *text;
	struct nod_vehicle *v = finish(&b, &text);
	assert_int_equal(v->module_count, 1);
	assert_int_equal(module_of(v, "can0", 0x760), 0);
	assert_non_null(strstr(text, "    # 7DF "));
	assert_non_null(strstr(text, "    # 759 "));
	nod_vehicle_free(v);
	free(text);
}

static void test_odd_recordings(void **state)
{
	(void)state;
	struct bench b = bench_new();
	FILE *out = fopen("/dev/null", "w");
	assert_int_equal(nod_draft_write(b.draft, &b.names, out), -ENODATA);
	fclose(out);
	strcpy(b.names.names[0], "a:#\xff\x01 \"[");
	char bytes[64] = {0};
	feed(&b, 0, 0, 0x123 | NOD_ID_REMOTE, bytes, 4);
	feed(&b, INT64_C(400) * 365 * 86400, 0, 0x124, bytes, 64); /* seconds: a day's jump */
	feed(&b, -1000, 0, 0x125, bytes, 0);
	feed(&b, INT64_C(7000000000000), 0, 0x126, bytes, 1);
	char *text;
	struct nod_vehicle *v = finish(&b, &text);
	assert_string_equal(v->networks[0].interfaces[0], "a:#___\"[");
	for (uint32_t id = 0x123; id <= 0x126; id++)
		assert_int_not_equal(nod_vehicle_module_of_id(v, 0, id), NOD_NONE);
	assert_non_null(strstr(text, "remote frames"));
	assert_non_null(strstr(text, "64 B"));
	nod_vehicle_free(v);
	free(text);
}

static void test_ids_are_bounded(void **state)
{
	(void)state;
	struct bench b = bench_new();
	for (uint32_t i = 0; i < NOD_DRAFT_IDS_MAX + 50; i++)
		feed(&b, i, 0, (i * 0x1000) | NOD_ID_EXTENDED, "", 0);
	char *text;
	struct nod_vehicle *v = finish(&b, &text);
	assert_int_equal(v->module_count, NOD_DRAFT_IDS_MAX);
	assert_non_null(strstr(text, "# More than 9000 IDs: 50 frames of others are left out.\n"));
	nod_vehicle_free(v);
	free(text);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_neighbours_heard_together_are_one_group),
		cmocka_unit_test(test_truck_units_by_source_address),
		cmocka_unit_test(test_ring_nodes_are_modules),
		cmocka_unit_test(test_testers_are_left_out),
		cmocka_unit_test(test_odd_recordings),
		cmocka_unit_test(test_ids_are_bounded),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
