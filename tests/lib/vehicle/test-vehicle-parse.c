/* SPDX-License-Identifier: MIT */
/* Keys, shapes and YAML that a vehicle file may not have. */
#include "refused.h"

static void test_keys(void **state)
{
	(void)state;
	static const struct bad cases[] = {
		{"networks:\n  body:\n    sleep within: 5 min\n", "car.yaml:3:5: ",
		 "unknown key `sleep within`; did you mean `sleeps within`? expected one of: "
		 "interfaces, bitrate, data bitrate, sample point, data sample point, physical "
		 "layer, sleeps within, quiet time, "
		 "management"},
		{"networks:\n  body: { colour: red }\n",
		 "car.yaml:2:11: ", "unknown key `colour`; expected one of: interfaces"},
		{NETWORK "module: {}\n", "car.yaml:3:1: ", "did you mean `modules`?"},
		{NETWORK "limits: { key off current: 50 mA }\n",
		 "car.yaml:3:11: ", "did you mean `key-off current`?"},
		{NETWORK "battery: { typ: agm }\n", "car.yaml:3:12: ", "did you mean `type`?"},
		{NETWORK "fuses:\n  F1: { raiting: 10 A }\n",
		 "car.yaml:4:9: ", "did you mean `rating`?"},
		{NETWORK "modules:\n  a: { id: [1] }\n", "car.yaml:4:8: ", "did you mean `ids`?"},
		{"networks: { a: { management: { schema: osek } } }\n",
		 "car.yaml:1:32: ", "did you mean `scheme`?"},
		{NETWORK "  Body: {}\n", "car.yaml:3:3: ", "`Body` stands twice; first on line 2"},
		{NETWORK "networks: {}\n", "car.yaml:3:1: ", "stands twice; first on line 1"},
		{NETWORK "fuses: { F1: {}, f1: {} }\n", "car.yaml:3:18: ", "first on line 3"},
		{NETWORK "modules:\n  a:\n    ids: 1\n    ids: 2\n",
		 "car.yaml:6:5: ", "`ids` stands twice; first on line 5"},
		{NETWORK "fuses: { \"\": {} }\n",
		 "car.yaml:3:10: ", "expected a name before the colon"},
		{NETWORK "? [a, b]\n: 1\n", "car.yaml:3:3: ", "expected a key, found a list"},
		{NETWORK "fuses: { aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa"
			 "aaaaaaaaaaaaaaaaaaaaaaaaa: {} }\n",
		 "car.yaml:3:10: ", "a key of at most 80 bytes, found 85"},
	};
	CHECK_ALL(cases);
}

static void test_shapes(void **state)
{
	(void)state;
	static const struct bad cases[] = {
		{"", "car.yaml:1:1: ", "the file is empty, expected at least `networks:`"},
		{"# nothing\n", "car.yaml:1:1: ", "the file is empty"},
		{"hello\n", "car.yaml:1:1: ",
		 "expected a vehicle file as `key: value` lines, found a "
		 "single value"},
		{"vehicle: x\n", "car.yaml:1:1: ", "no network stands in the file"},
		{"networks: {}\n", "car.yaml:1:1: ", "expected at least one under `networks:`"},
		{NETWORK "modules: [a, b]\n",
		 "car.yaml:3:10: ", "expected modules as `key: value` lines, found a list"},
		{NETWORK "modules: { a: 2A0 }\n", "car.yaml:3:15: ", "expected a module as"},
		{NETWORK "fuses:\n  F1: 10 A\n", "car.yaml:4:7: ", "found a single value"},
		{"networks: { a: { management: osek } }\n",
		 "car.yaml:1:30: ", "expected network management as `key: value` lines"},
		{NETWORK "modules: { a: { place: [x] } }\n",
		 "car.yaml:3:24: ", "expected a place, found a list"},
		{NETWORK "modules: { a: { place: } }\n",
		 "car.yaml:3:24: ", "expected a place, found nothing"},
		{NETWORK "modules: { a: { ids: [{a: 1}] } }\n",
		 "car.yaml:3:23: ", "found a mapping"},
		{NETWORK "modules: { a: { inputs: [\"\"] } }\n",
		 "car.yaml:3:26: ", "found nothing"},
	};
	CHECK_ALL(cases);
}

static void test_yaml_that_a_map_does_not_need(void **state)
{
	(void)state;
	static const struct bad cases[] = {
		{"networks: &x\n  body: {}\nmodules: *x\n",
		 "car.yaml:1:11: ", "an anchor (`&name`)"},
		{NETWORK "modules: *x\n",
		 "car.yaml:3:10: ", "a reference (`*name`) is not allowed"},
		{NETWORK "vehicle: !!str x\n", "car.yaml:3:10: ", "a tag (`!name`)"},
		{NETWORK "---\nnetworks: {}\n",
		 "car.yaml:3:1: ", "a second document begins here, expected one vehicle in a file"},
		{"networks: {\n", "car.yaml:2:1: ", "not YAML: "},
		{"networks:\n\tbody: {}\n", "car.yaml:2:1: ", "indent with blanks, not tabs"},
		{"vehicle: Car: invented\n",
		 "car.yaml:1:13: ", "put text that contains `: ` in quotes"},
		{"networks:\n  a: {}\n b: {}\n", "car.yaml:3:2: ", "same column"},
		{"networks:\n  a: { interfaces: [can0 }\n", "car.yaml:2:26: ", "closed"},
		{"vehicle: \"a\\e[31m\"\n" NETWORK, "car.yaml:1:10: ", "found a control character"},
		{"vehicle: |\n  two\n  lines\n" NETWORK, "car.yaml:1:10: ", "in one line"},
		{"vehicle: ok\nlimits: \x01\n",
		 "car.yaml:2:9: ", "control characters are not allowed"},
		{"vehicle: \xff\n", "car.yaml:1:10: ", "not YAML: invalid leading UTF-8"},
	};
	CHECK_ALL(cases);
	static const char zero[] = "vehicle: \"a\\0b\"\n" NETWORK;
	check(zero, sizeof(zero) - 1, "car.yaml:1:10: ", "control character");
	static const char raw_zero[] = "vehicle: a\0b\n" NETWORK;
	check(raw_zero, sizeof(raw_zero) - 1, "car.yaml:1:11: ", "control characters");
}

static void test_files_that_cannot_be_opened(void **state)
{
	(void)state;
	struct nod_error err = {""};
	assert_null(nod_vehicle_load("/nowhere/car.yaml", &err));
	assert_int_equal(errno, ENOENT);
	assert_string_equal(err.text, "/nowhere/car.yaml: No such file or directory");
	assert_null(nod_vehicle_load("/", &err));
	assert_int_equal(errno, EISDIR);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_keys),
		cmocka_unit_test(test_shapes),
		cmocka_unit_test(test_yaml_that_a_map_does_not_need),
		cmocka_unit_test(test_files_that_cannot_be_opened),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
