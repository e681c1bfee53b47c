/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "scrub.h"

static struct nod_interfaces names = {2, {"can0", "can1"}};

static struct nod_frame frame_of(uint32_t id, uint8_t interface, const char *bytes, uint8_t length)
{
	struct nod_frame frame = {.id = id, .interface = interface, .length = length};

	memcpy(frame.data, bytes, length);
	return frame;
}

static void check(struct nod_scrub *scrub, struct nod_frame frame, const char *expected)
{
	struct nod_frame before = frame;

	nod_scrub_frame(scrub, &frame);
	assert_memory_equal(frame.data, expected, frame.length);
	assert_int_equal(frame.id, before.id);
	assert_int_equal(frame.length, before.length);
}

static void test_payload_keeps_what_the_engine_needs(void **state)
{
	(void)state;
	const char file[] = "networks:\n  body:\n    interfaces: [can0]\n"
			    "    management: { scheme: autosar, ids: 500-53F }\n";
	struct nod_vehicle *vehicle = nod_vehicle_parse(file, strlen(file), "car.yaml", NULL);
	struct nod_scrub *scrub = nod_scrub_new(NOD_SCRUB_PAYLOAD, vehicle, &names);
	struct nod_frame nm = frame_of(0x512, 0, "\x12\x40\xAA\xBB", 4);

	assert_non_null(vehicle);
	assert_int_equal(nod_scrub_look(scrub, &nm), 0);
	nod_scrub_ready(scrub);
	check(scrub, nm, "\x12\x40\xAA\xBB");
	check(scrub, frame_of(0x512, 1, "\x12\x40\xAA\xBB", 4), "\0\0\0\0"); /* another network */
	check(scrub, frame_of(0x300, 0, "\x01\x02\x03", 3), "\0\0\0");
	/* a single frame, 22 F1 90: transport, service, and no more */
	check(scrub, frame_of(0x7E0, 0, "\x03\x22\xF1\x90\x55\x55\x55\x55", 8),
	      "\x03\x22\xF1\0\0\0\0\0");
	check(scrub,
	      frame_of(0x7E8, 0,
		       "\x21"
		       "ABCDEFG",
		       8),
	      "\x21\0\0\0\0\0\0\0");
	check(scrub, frame_of(NOD_ID_ERROR | 0x80, 0, "\1\2\3\4\5\6\7\10", 8), "\1\2\3\4\5\6\7\10");
	assert_int_equal(nod_scrub_changed(scrub), 4);
	nod_scrub_free(scrub);
	nod_vehicle_free(vehicle);
}

/* Three nodes of AUTOSAR CanNm, found without a vehicle file: one of them is ready to sleep
 * halfway through, while three other messages go on. */
static void test_management_is_detected(void **state)
{
	(void)state;
	struct nod_scrub *scrub = nod_scrub_new(NOD_SCRUB_PAYLOAD, NULL, &names);

	for (int i = 0; i < 300; i++)
		for (uint32_t node = 1; node <= 3; node++) {
			struct nod_frame frame = frame_of(0x500 + node, 0, "\0\0\0\0\0\0\0\0", 8);
			struct nod_frame other = frame_of(0x100 + node, 0, "\0\0\0", 3);
			frame.data[0] = (uint8_t)node;
			frame.data[4] = 0x77;
			frame.time.ns = i * 200 * NOD_NS_PER_MS + node * NOD_NS_PER_MS;
			other.time = frame.time;
			if (node < 3 || i < 150)
				assert_int_equal(nod_scrub_look(scrub, &frame), 0);
			assert_int_equal(nod_scrub_look(scrub, &other), 0);
		}
	nod_scrub_ready(scrub);
	check(scrub, frame_of(0x502, 0, "\x02\0\0\0\x77\0\0\0", 8), "\x02\0\0\0\x77\0\0\0");
	check(scrub, frame_of(0x402, 0, "\x02\0\0\0\x77\0\0\0", 8), "\0\0\0\0\0\0\0\0");
	nod_scrub_free(scrub);
}

static void test_vin(void **state)
{
	(void)state;
	struct nod_scrub *scrub = nod_scrub_new(NOD_SCRUB_VIN, NULL, &names);
	struct nod_frame parts[] = {frame_of(0x40A, 0, "\0ZZZAB12", 8),
				    frame_of(0x40A, 0, "\1C0XK004", 8),
				    frame_of(0x40A, 0,
					     "\2"
					     "711\xFF\xFF\xFF\xFF",
					     8)};
	char text[] = "ZZZAB12C0XK004711";

	for (int i = 0; i < 3; i++)
		assert_int_equal(nod_scrub_look(scrub, &parts[i]), 0);
	nod_scrub_ready(scrub);
	check(scrub, parts[0], "\0XXXXXXX");
	check(scrub, parts[1], "\1XXXXXXX");
	check(scrub, parts[2], "\2XXX\xFF\xFF\xFF\xFF");
	assert_int_equal(nod_scrub_changed(scrub), 3);
	nod_scrub_text(scrub, text);
	assert_string_equal(text, "XXXXXXXXXXXXXXXXX");
	nod_scrub_free(scrub);
	nod_scrub_free(NULL);
}

static void test_kinds(void **state)
{
	(void)state;
	enum nod_scrub_kind kind;
	char text[] = "ZZZAB12C0XK004711";
	struct nod_scrub *scrub = nod_scrub_new(NOD_SCRUB_NOTHING, NULL, &names);

	assert_int_equal(nod_scrub_kind_parse(&kind, "vin"), 0);
	assert_int_equal(kind, NOD_SCRUB_VIN);
	assert_int_equal(nod_scrub_kind_parse(&kind, "nothing"), -EINVAL);
	assert_string_equal(nod_scrub_kind_name(NOD_SCRUB_PAYLOAD), "payload");
	check(scrub, frame_of(0x300, 0, "\x01\x02", 2), "\x01\x02");
	nod_scrub_text(scrub, text);
	assert_string_equal(text, "ZZZAB12C0XK004711");
	nod_scrub_free(scrub);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_payload_keeps_what_the_engine_needs),
		cmocka_unit_test(test_management_is_detected),
		cmocka_unit_test(test_vin),
		cmocka_unit_test(test_kinds),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
