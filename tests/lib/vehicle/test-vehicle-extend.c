/* SPDX-License-Identifier: MIT */
/* What is added to a vehicle file that a person wrote, in whatever way it is written. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "vehicle-extend.h"

static const char more[] = "networks: { body: { interfaces: can0 } }\n"
			   "modules: { Door: { networks: body, ids: [100, 2A0] } }\n"
			   "messages: { Doors: { id: 2A0, networks: body } }\n";

static char *extended(const char *text, struct nod_extension *done, struct nod_error *err)
{
	struct nod_vehicle *vehicle = nod_vehicle_parse(more, strlen(more), "more", NULL);

	assert_non_null(vehicle);
	char *result = nod_vehicle_extend(text, strlen(text), "car.yaml", vehicle, done, err);
	nod_vehicle_free(vehicle);
	return result;
}

static void becomes(const char *text, const char *expected)
{
	struct nod_extension done;
	struct nod_error err = {""};
	char *result = extended(text, &done, &err);

	assert_string_equal(err.text, "");
	assert_string_equal(result, expected);
	free(result);
}

#define MESSAGES "messages:\n  Doors:\n    id: 2A0\n    networks: [body]\n"

static void test_lists_of_all_kinds(void **state)
{
	(void)state;
	becomes("# ä\nnetworks:\n  body: {}\nmodules:\n  Door: { ids: [1] } # ö\n",
		"# ä\nnetworks:\n  body: {}\nmodules:\n  Door: { ids: [1, 100, 2A0] } # ö\n" MESSAGES);
	becomes("modules:\n  Door: { ids: [] }\nnetworks:\n  body: {}",
		"modules:\n  Door: { ids: [100, 2A0] }\nnetworks:\n  body: {}\n" MESSAGES);
	becomes("networks:\n  body:\nmodules:\n  Door:\n    ids:\n    - 1\n\n    # more\n",
		"networks:\n  body:\nmodules:\n  Door:\n    ids:\n    - 1\n    - 100\n    - 2A0\n\n"
		"    # more\n" MESSAGES);
	becomes("networks:\n  body:\nmodules:\n  Ä: {}\n  Door: { place: ä, ids: 1 }\n",
		"networks:\n  body:\nmodules:\n  Ä: {}\n  Door: { place: ä, ids: [1, 100, 2A0] }\n" MESSAGES);
	becomes("networks:\n  body:\nmodules:\n  Door:\n", "networks:\n  body:\nmodules:\n  Door:\n"
							   "    ids: [100, 2A0]\n" MESSAGES);
	becomes("networks:\n  body:\nmodules:\n    Door:\n        place: here\n",
		"networks:\n  body:\nmodules:\n    Door:\n        place: here\n"
		"        ids: [100, 2A0]\n" MESSAGES);
	becomes("networks:\n  body:\nmodules:\n  Door: {}\n",
		"networks:\n  body:\nmodules:\n  Door: {ids: [100, 2A0]}\n" MESSAGES);
}

static void test_sections(void **state)
{
	(void)state;
	becomes("vehicle: x\nmodules:\n   Roof: { ids: 100 }\nmessages:\n",
		"vehicle: x\nmodules:\n   Roof: { ids: 100 }\n   Door:\n     networks: [body]\n"
		"     ids: [2A0]\n" MESSAGES
		"networks:\n  body:\n    interfaces: [can0]\n    management:\n"
		"      scheme: unknown\n");
	/* the same name means something else here; the same ID is left alone */
	struct nod_extension done;
	struct nod_error err = {""};
	char *text = extended("networks:\n  body:\nmessages:\n  doors: { id: 1 }\n", &done, &err);
	assert_non_null(strstr(text, "  Doors (2A0):\n    id: 2A0\n"));
	free(text);
	text = extended("networks:\n  body:\nmessages:\n  Mine: { id: 2A0 }\n", &done, &err);
	assert_int_equal(done.known, 1);
	assert_int_equal(done.messages, 0);
	assert_null(strstr(text, "Doors"));
	free(text);
}

static void test_what_cannot_be_added_to(void **state)
{
	(void)state;
	struct nod_extension done;
	struct nod_error err = {""};
	assert_null(extended("networks: { body: }\nmodules: { Roof: }\n", &done, &err));
	assert_string_equal(err.text,
			    "car.yaml:2:10: `modules` stands in braces, expected a line for "
			    "each, to which others can be added");
	assert_null(extended("{ networks: { body: } }\n", &done, &err));
	assert_non_null(strstr(err.text, "stands in braces"));
	assert_null(extended("networks: [\n", &done, &err));
	assert_non_null(strstr(err.text, "car.yaml:"));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_lists_of_all_kinds),
		cmocka_unit_test(test_sections),
		cmocka_unit_test(test_what_cannot_be_added_to),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
