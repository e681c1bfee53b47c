/* SPDX-License-Identifier: MIT */
/* IDs and names that point nowhere, and claims that collide. */
#include "refused.h"

#define TWO "networks:\n  p: { interfaces: [can0] }\n  q: { interfaces: [can1] }\nmodules:\n"

static void test_ids(void **state)
{
	(void)state;
	static const struct bad cases[] = {
		{NETWORK "modules:\n  a: { ids: [2AF-2A0] }\n", "car.yaml:4:14: ", "upside down"},
		{NETWORK "modules:\n  a: { ids: [1, 2A0-000002AF] }\n",
		 "car.yaml:4:17: ", "mixes a standard and an extended ID"},
		{NETWORK "modules:\n  a: { ids: [800] }\n", "car.yaml:4:14: ", "above 7FF"},
		{NETWORK "modules:\n  a: { ids: [12345] }\n",
		 "car.yaml:4:14: ", "(extended: `00012345`)"},
		{NETWORK "modules:\n  a: { ids: [10/000] }\n", "car.yaml:4:14: ", "is zero"},
		{NETWORK "modules:\n  a: { fuses: [F9] }\n", "car.yaml:4:16: ",
		 "there is no fuse `F9`, expected one that stands under `fuses`"},
		{NETWORK "fuses: { F12: {} }\nmodules:\n  a: { fuses: [F1] }\n",
		 "car.yaml:5:16: ", "did you mean `F12`?"},
		{NETWORK "modules:\n  a: { networks: [bodi] }\n", "car.yaml:4:19: ",
		 "there is no network `bodi`, expected one that stands under `networks`; did you "
		 "mean `body`?"},
	};
	CHECK_ALL(cases);
}

static void test_claims_that_collide(void **state)
{
	(void)state;
	static const struct bad cases[] = {
		{"networks:\n  a: { interfaces: [can0] }\n  b: { interfaces: [can1, can0] }\n",
		 "car.yaml:3:27: ",
		 "interface can0 is claimed by `b`, but `a` claims it on line 2 already; expected "
		 "one owner"},
		{TWO "  a: { ids: [2A0] }\n  b: { ids: [1, 280-2BF] }\n", "car.yaml:6:17: ",
		 "ID 2A0 is claimed by `b`, but `a` claims it on line 5 already"},
		{TWO "  a: { ids: [280-2BF] }\n  b: { ids: [2A0] }\n",
		 "car.yaml:6:14: ", "ID 2A0 is claimed by `b`, but `a`"},
		{TWO "  a: { ids: [200/701] }\n  b: { ids: [203-204] }\n",
		 "car.yaml:6:14: ", "ID 204 is claimed by `b`"},
		{TWO "  a: { ids: [203-204] }\n  b: { ids: [200/701] }\n",
		 "car.yaml:6:14: ", "ID 204 is claimed by `b`"},
		{TWO "  a: { ids: [200/701] }\n  b: { ids: [002/00F] }\n",
		 "car.yaml:6:14: ", "ID 202 is claimed by `b`"},
		{TWO "  a: { ids: [300/7F0] }\n  b: { ids: [305] }\n",
		 "car.yaml:6:14: ", "ID 305 is claimed by `b`"},
		{TWO "  a: { ids: [00000021/000000FF] }\n  b: { ids: [18FEF121] }\n",
		 "car.yaml:6:14: ", "ID 18FEF121 is claimed by `b`"},
		/* hidden behind a longer range of the module's own */
		{TWO "  a: { ids: [100-1FF] }\n  b: { ids: [80] }\n  c: { ids: [110-111, 180] }\n",
		 "car.yaml:7:14: ", "ID 110 is claimed by `c`, but `a`"},
		{TWO "  a: { ids: [100-1FF, 120-121] }\n  b: { ids: [90-110] }\n",
		 "car.yaml:6:14: ", "ID 100 is claimed by `b`, but `a`"},
		/* the first of several in the file */
		{TWO "  a: { ids: [1, 700] }\n  b: { ids: [700] }\n  c: { ids: [1] }\n",
		 "car.yaml:6:14: ", "ID 700 is claimed by `b`"},
		/* a module without networks may sit on any */
		{TWO "  a: { ids: [1] }\n  b: { networks: q, ids: [1] }\n",
		 "car.yaml:6:27: ", "ID 001 is claimed by `b`"},
		{TWO "  a: { networks: [p, q], ids: [1] }\n  b: { networks: q, ids: [1] }\n",
		 "car.yaml:6:27: ", "ID 001 is claimed by `b`"},
		{TWO "  a: { node: 12 }\n  b: { node: [1, 12] }\n", "car.yaml:6:18: ",
		 "node address 12 is claimed by `b`, but `a` claims it on line 5 already"},
		{TWO "  a: { source address: 0x21 }\n  b: { source address: 21h }\n",
		 "car.yaml:6:24: ", "source address 21 is claimed by `b`, but `a`"},
	};
	CHECK_ALL(cases);
}

static void test_claims_that_do_not_collide(void **state)
{
	(void)state;
	static const char *const cases[] = {
		TWO "  a: { networks: p, ids: [1] }\n  b: { networks: q, ids: [1] }\n",
		TWO "  a: { networks: p, node: 1 }\n  b: { networks: q, node: 1 }\n",
		TWO "  a: { ids: [1] }\n  b: { ids: [00000001] }\n",
		TWO "  a: { ids: [100-1FF, 120, 1F0/7F0] }\n  b: { ids: [200] }\n",
		TWO "  a: { ids: [200/701] }\n  b: { ids: [201, 203, 205/705] }\n",
		TWO "  a: { node: 1 }\n  b: { source address: 1 }\n",
		"networks: { a: { interfaces: [can0, can0] }, b: { interfaces: CAN0 } }\n",
	};
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct nod_error err = {""};
		struct nod_vehicle *v = nod_vehicle_parse(cases[i], strlen(cases[i]), "x", &err);
		assert_string_equal(err.text, "");
		assert_non_null(v);
		nod_vehicle_free(v);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_ids),
		cmocka_unit_test(test_claims_that_collide),
		cmocka_unit_test(test_claims_that_do_not_collide),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
