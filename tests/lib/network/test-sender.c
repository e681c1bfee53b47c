/* SPDX-License-Identifier: MIT */
#include "scene.h"

#include "sender.h"

static void test_the_same_sender_is_known_again(void **state)
{
	(void)state;
	struct nod_sender seat = {NOD_SENDER_MODULE, 2, 0, 0x200};
	struct nod_sender seat_elsewhere = {NOD_SENDER_MODULE, 2, 1, 0x300};
	struct nod_sender door = {NOD_SENDER_MODULE, 3, 0, 0x200};
	struct nod_sender id = {NOD_SENDER_ID, NOD_NONE, 0, 0x200};
	struct nod_sender id_elsewhere = {NOD_SENDER_ID, NOD_NONE, 1, 0x200};
	struct nod_sender extended = {NOD_SENDER_ID, NOD_NONE, 0, 0x200 | NOD_ID_EXTENDED};
	struct nod_sender tester = {NOD_SENDER_TESTER, NOD_NONE, 0, 0x7DF};
	struct nod_sender tester_elsewhere = {NOD_SENDER_TESTER, NOD_NONE, 1, 0x7E0};

	assert_true(nod_sender_same(&seat, &seat_elsewhere)); /* a module of two networks */
	assert_false(nod_sender_same(&seat, &door));
	assert_false(nod_sender_same(&seat, &id));
	assert_false(nod_sender_same(&id, &id_elsewhere)); /* nobody says it is one module */
	assert_false(nod_sender_same(&id, &extended));
	assert_true(nod_sender_same(&tester, &tester_elsewhere));
}

static void test_names_are_for_people(void **state)
{
	(void)state;
	static const char text[] =
		"networks: { body: { interfaces: [can0] } }\n"
		"modules: { roof unit: { ids: [100] } }\n"
		"messages: { Tailgate: { id: 418, senders: [left unit, right unit] },\n"
		"            Alone: { id: 419 } }\n";
	struct nod_error err;
	struct nod_arena arena = {0};
	struct nod_vehicle *vehicle = nod_vehicle_parse(text, strlen(text), "test", &err);
	struct nod_vehicle *unknown = nod_vehicle_new();
	struct nod_sender module = {NOD_SENDER_MODULE, 0, 0, 0x100};
	struct nod_sender id = {NOD_SENDER_ID, NOD_NONE, 0, 0x2A0};
	struct nod_sender extended = {NOD_SENDER_ID, NOD_NONE, 0, 0x18FF0010 | NOD_ID_EXTENDED};
	struct nod_sender described = {NOD_SENDER_ID, NOD_NONE, 0, 0x418};
	struct nod_sender alone = {NOD_SENDER_ID, NOD_NONE, 0, 0x419};
	struct nod_sender address = {NOD_SENDER_SOURCE_ADDRESS, NOD_NONE, 0, 0x21};
	struct nod_sender node = {NOD_SENDER_NODE, NOD_NONE, 0, 0x512};
	struct nod_sender tester = {NOD_SENDER_TESTER, NOD_NONE, 0, 0x7DF};

	assert_non_null(vehicle);
	assert_string_equal(nod_sender_name(&arena, &module, vehicle), "roof unit");
	assert_string_equal(nod_sender_name(&arena, &id, vehicle), "ID 2A0 (not in the map)");
	assert_string_equal(nod_sender_name(&arena, &id, unknown), "ID 2A0"); /* there is none */
	assert_string_equal(nod_sender_name(&arena, &extended, unknown), "ID 18FF0010");
	assert_string_equal(nod_sender_name(&arena, &described, vehicle),
			    "ID 418 (Tailgate of left unit or right unit)");
	assert_string_equal(nod_sender_name(&arena, &alone, vehicle), "ID 419 (Alone)");
	assert_string_equal(nod_sender_name(&arena, &address, vehicle), "source address 21h");
	assert_string_equal(nod_sender_name(&arena, &node, vehicle), "ID 512 (network management)");
	assert_string_equal(nod_sender_name(&arena, &tester, vehicle), "a diagnostic tester");
	nod_arena_free(&arena);
	nod_vehicle_free(vehicle);
	nod_vehicle_free(unknown);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_the_same_sender_is_known_again),
		cmocka_unit_test(test_names_are_for_people),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
