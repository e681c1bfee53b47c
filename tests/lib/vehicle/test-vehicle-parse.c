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

#define NETWORK "networks:\n  body: { interfaces: [can0] }\n"

struct bad {
	const char *text, *place, *says;
};

static void check(const char *text, size_t length, const char *place, const char *says)
{
	struct nod_error err = {""};
	struct nod_vehicle *v = nod_vehicle_parse(text, length, "car.yaml", &err);

	if (v || errno != EINVAL || strncmp(err.text, place, strlen(place)) ||
	    !strstr(err.text, says))
		fail_msg("\"%s\" (errno %d) lacks %s ... %s in:\n%.300s", err.text, errno, place,
			 says, text);
}

static void check_all(const struct bad *cases, size_t count)
{
	for (size_t i = 0; i < count; i++)
		check(cases[i].text, strlen(cases[i].text), cases[i].place, cases[i].says);
}
#define CHECK_ALL(cases) check_all(cases, sizeof(cases) / sizeof((cases)[0]))

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

static void test_numbers(void **state)
{
	(void)state;
	static const struct bad cases[] = {
		{"networks: { a: { bitrate: fast } }\n", "car.yaml:1:27: ",
		 "expected a bitrate from 5000 to 1000000 bit/s such as `500000` or `500k`, found "
		 "`fast`"},
		{"networks: { a: { bitrate: -500000 } }\n", "car.yaml:1:27: ", "found `-500000`"},
		{"networks: { a: { bitrate: 99999999999999999999 } }\n", "car.yaml:1:", "bit/s"},
		{"networks: { a: { bitrate: 500 furlongs } }\n",
		 "car.yaml:1:", "found `500 furlongs`"},
		{"networks: { a: { bitrate: 500 } }\n", "car.yaml:1:", "from 5000"},
		{"networks: { a: { data bitrate: 1G } }\n", "car.yaml:1:", "a data bitrate from"},
		{"networks: { a: { sample point: 30 % } }\n", "car.yaml:1:", "a sample point from"},
		{"networks: { a: { quiet time: soon } }\n", "car.yaml:1:30: ",
		 "expected the quiet time as a time such as `10 min` or `2 s`, found `soon`"},
		{"networks: { a: { quiet time: 2 } }\n",
		 "car.yaml:1:30: ", "`2` is without a unit, expected a time such as `10 min`"},
		{"networks: { a: { quiet time: 1 ms } }\n",
		 "car.yaml:1:30: ", "expected the quiet time from 100 ms to 1 h"},
		{"networks: { a: { sleeps within: 90 d } }\n",
		 "car.yaml:1:33: ", "from 1.0 s to 7 d"},
		{"networks: { a: { sleeps within: -5 min } }\n",
		 "car.yaml:1:33: ", "found `-5 min`"},
		{"networks: { a: { sleeps within: 99999999999 d } }\n", "car.yaml:1:33: ", "7 d"},
		{NETWORK "limits: { key-off current: 50 }\n", "car.yaml:3:28: ",
		 "the key-off current: `50` is without a unit, expected a value such as"},
		{NETWORK "limits: { key-off current: -50 mA }\n", "car.yaml:3:28: ",
		 "expected the key-off current from 1.00 mA to 10.0 A, found `-50 mA`"},
		{NETWORK "limits: { key-off current: 50 A }\n", "car.yaml:3:28: ", "to 10.0 A"},
		{NETWORK "fuses: { F1: { rating: 10 } }\n",
		 "car.yaml:3:24: ", "the rating: `10` is without a unit"},
		{NETWORK "fuses: { F1: { rating: 10 mV } }\n",
		 "car.yaml:3:24: ", "in another unit"},
		{NETWORK "fuses: { F1: { rating: 0 A } }\n",
		 "car.yaml:3:24: ", "expected the rating from 50.0 mA"},
		{NETWORK "fuses: { F1: { rating: 99999999999999999999 A } }\n",
		 "car.yaml:3:24: ", "expected the rating from"},
		{NETWORK "fuses: { F1: { resistance: 7.4 } }\n",
		 "car.yaml:3:28: ", "the resistance: `7.4` is without a unit"},
		{NETWORK "battery: { capacity: 70 A }\n", "car.yaml:3:22: ", "in another unit"},
		{NETWORK "battery: { capacity: 70000 Ah }\n",
		 "car.yaml:3:22: ", "the capacity from"},
		{NETWORK "battery: { reserve: 120 }\n", "car.yaml:3:21: ", "without a unit"},
		{NETWORK "battery: { type: lithium }\n",
		 "car.yaml:3:18: ", "expected a battery type: flooded or agm; found `lithium`"},
	};
	CHECK_ALL(cases);
}

static void test_words_and_addresses(void **state)
{
	(void)state;
	static const struct bad cases[] = {
		{"networks: { a: { management: { scheme: magic } } }\n", "car.yaml:1:40: ",
		 "expected a scheme: autosar, osek, j1939, none or unknown; found `magic`"},
		{"networks: { a: { management: { ids: 500/700 } } }\n",
		 "car.yaml:1:37: ", "expected a range of IDs such as `500-53F`, found a mask"},
		{"networks: { a: { management: { ids: 53F-500 } } }\n",
		 "car.yaml:1:37: ", "upside down"},
		{"networks: { a: { management: { node byte: 8 } } }\n", "car.yaml:1:43: ",
		 "the position of the node byte: 0, 1, 2, 3, 4, 5, 6, 7 or none; found `8`"},
		{"networks: { a: { management: { control byte: 0 } } }\n",
		 "car.yaml:1:30: ", "node byte and control byte are both 0"},
		{"networks: { a: { management: { partial network bytes: 5-4 } } }\n",
		 "car.yaml:1:55: ", "expected byte positions such as `4-5`"},
		{"networks: { a: { management: { partial network bytes: 1-4 } } }\n",
		 "car.yaml:1:30: ", "include the node or control byte"},
		{"networks: { a: { management: { ring: 100 } } }\n",
		 "car.yaml:1:38: ", "expected opcode bits in hex from 01 to FF, found `100`"},
		{"networks: { a: { management: { sleep indication: 20 } } }\n",
		 "car.yaml:1:30: ", "share bits"},
		{"networks: { a: { physical layer: optical } }\n",
		 "car.yaml:1:34: ", "high-speed or fault-tolerant; found `optical`"},
		{"networks: { a: { interfaces: [a-name-of-16-ch] } }\nx: 1\n",
		 "car.yaml:2:1: ", "unknown key"},
		{"networks: { a: { interfaces: [a-name-of-16-chr] } }\n",
		 "car.yaml:1:31: ", "at most 15 characters"},
		{NETWORK "modules: { a: { gateway: perhaps } }\n",
		 "car.yaml:3:26: ", "yes, no, true or false; found `perhaps`"},
		{NETWORK "modules: { a: { node: 100 } }\n",
		 "car.yaml:3:23: ", "expected a node address in hex from 00 to FF, found `100`"},
		{NETWORK "modules: { a: { node: -1 } }\n", "car.yaml:3:23: ", "found `-1`"},
		{NETWORK "modules: { a: { node: zz } }\n", "car.yaml:3:23: ", "found `zz`"},
		{NETWORK "modules: { a: { source address: FE } }\n", "car.yaml:3:33: ",
		 "expected a J1939 source address in hex from 00 to FD, found `FE`"},
	};
	CHECK_ALL(cases);
}

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

#define TWO "networks:\n  p: { interfaces: [can0] }\n  q: { interfaces: [can1] }\nmodules:\n"

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

static void test_forms_of_values(void **state)
{
	(void)state;
	static const char text[] =
		"networks:\n"
		"  a: { bitrate: 500 kbit/s, data bitrate: 8M, sleeps within: 1 h 30 min }\n"
		"  b: { bitrate: 33.3k, quiet time: 1.5 s }\n"
		"  c: { bitrate: 1 Mbit/s }\n"
		"limits: { key-off current: 1500 uA }\n";
	struct nod_error err = {""};
	struct nod_vehicle *v = nod_vehicle_parse(text, sizeof(text) - 1, "x", &err);
	assert_string_equal(err.text, "");
	assert_int_equal(v->networks[0].bitrate, 500000);
	assert_int_equal(v->networks[0].data_bitrate, 8000000);
	assert_int_equal(v->networks[0].sleeps_within.ns, 5400 * NOD_NS_PER_S);
	assert_int_equal(v->networks[1].bitrate, 33300);
	assert_int_equal(v->networks[1].quiet_time.ns, 1500 * NOD_NS_PER_MS);
	assert_int_equal(v->networks[2].bitrate, 1000000);
	assert_int_equal(v->key_off_current_ua, 1500);
	assert_true(v->key_off_current_given);
	nod_vehicle_free(v);
	static const char more[] = NETWORK
		"fuses: { F1: { rating: 500 mA, resistance: 1.2 m\u2126 },\n"
		"  F2: { resistance: 150 uOhm } }\n"
		"modules: { a: { node: [0x0A, 0bh, C], gateway: No } }\n";
	v = nod_vehicle_parse(more, sizeof(more) - 1, "x", &err);
	assert_string_equal(err.text, "");
	assert_int_equal(v->fuses[0].rating_ma, 500);
	assert_int_equal(v->fuses[0].resistance_uohm, 1200);
	assert_int_equal(v->fuses[1].resistance_uohm, 150);
	assert_int_equal(v->modules[0].nodes[0], 0x0A);
	assert_int_equal(v->modules[0].nodes[1], 0x0B);
	assert_int_equal(v->modules[0].nodes[2], 0x0C);
	assert_false(v->modules[0].gateway);
	nod_vehicle_free(v);
}

/* Repeats `item`, its # replaced by a number, between two texts. */
static char *many(const char *before, const char *item, unsigned count, const char *after,
		  size_t *size)
{
	char *text = NULL;
	FILE *out = open_memstream(&text, size);
	fputs(before, out);
	for (unsigned i = 0; i < count; i++) {
		const char *mark = strchr(item, '#');
		if (mark)
			fprintf(out, "%.*s%u%s", (int)(mark - item), item, i, mark + 1);
		else
			fputs(item, out);
	}
	fputs(after, out);
	fclose(out);
	return text;
}

static void test_sizes_are_bounded(void **state)
{
	(void)state;
	static const struct {
		const char *before, *item;
		unsigned count;
		const char *after, *place, *says;
	} cases[] = {
		{"networks:\n", "  n#: {}\n", 33, "", "car.yaml:34:3: ", "more than 32 networks"},
		{NETWORK "fuses:\n", "  f#: {}\n", 10001, "",
		 "car.yaml:10004:3: ", "more than 10000 fuses"},
		{NETWORK "modules:\n", "  m#: {}\n", 10001, "",
		 "car.yaml:10004:3: ", "more than 10000 modules"},
		{NETWORK "modules:\n  a:\n    ids:\n", "    - 001\n", 100001, "",
		 "car.yaml:100006:7: ", "more than 100000 IDs and ranges"},
		{NETWORK "modules:\n  a:\n    inputs:\n", "    - i#\n", 1001, "",
		 "car.yaml:1006:7: ", "more than 1000 items in `inputs`"},
		{NETWORK "modules:\n  a:\n    ids:\n", "    - 001/00F\n", 301, "",
		 "car.yaml:306:7: ", "more than 300 masks"},
		{"networks: { a: { interfaces: [", "c#, ", 33, "x] } }",
		 "car.yaml:1:", "more than 32"},
		{"vehicle: ", "aaaaaaaa#", 30, "\n", "car.yaml:1:10: ", "at most 240 bytes"},
		{"", "[ #, ", 1000, "",
		 "car.yaml:1:", "nested too deeply, expected at most 16 levels"},
	};
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		size_t size;
		char *text = many(cases[i].before, cases[i].item, cases[i].count, cases[i].after,
				  &size);
		check(text, size, cases[i].place, cases[i].says);
		free(text);
	}
	size_t size;
	char *text = many(NETWORK, "  # 45678901234567890123456789012345678901234567890\n", 80000,
			  "", &size);
	struct nod_error err = {""};
	assert_true(size > 4 << 20);
	assert_null(nod_vehicle_parse(text, size, "car.yaml", &err));
	assert_int_equal(errno, EFBIG);
	assert_string_equal(err.text, "car.yaml: larger than 4 MiB, expected a vehicle file");
	free(text);
}

static void test_a_large_map_is_read(void **state)
{
	(void)state;
	size_t size;
	char *text = many(NETWORK "fuses:\n", "  f#: {}\n", 10000, "modules:\n  a:\n    ids: [",
			  &size);
	char *whole = NULL;
	FILE *out = open_memstream(&whole, &size);
	fputs(text, out);
	for (unsigned i = 0; i < 99000; i++)
		fprintf(out, "%s%08X", i ? ", " : "", i * 64);
	fputs("]\n  b: { ids: [00000001/0000003F] }\n", out);
	for (unsigned i = 0; i < 9000; i++)
		fprintf(out, "  m%u: { fuses: [f%u] }\n", i, i);
	fclose(out);
	free(text);
	struct nod_error err = {""};
	struct nod_vehicle *v = nod_vehicle_parse(whole, size, "car.yaml", &err);
	assert_string_equal(err.text, "");
	assert_int_equal(v->module_count, 9002);
	assert_int_equal(nod_vehicle_module_of_id(v, 0, 64 * 777 | NOD_ID_EXTENDED), 0);
	assert_int_equal(nod_vehicle_module_of_id(v, 0, (64 * 777 + 1) | NOD_ID_EXTENDED), 1);
	assert_int_equal(v->modules[9001].fuses[0], 8999);
	nod_vehicle_free(v);
	free(whole);
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

static char *read_example(size_t *size)
{
	FILE *file = fopen(NOD_CAPTURES "/example-vehicle.yaml", "rb");
	assert_non_null(file);
	char *text = malloc(65536);
	*size = fread(text, 1, 65536, file);
	fclose(file);
	assert_in_range(*size, 1000, 65535);
	return text;
}

/* A copy of the exact size, so that reading beyond it is noticed. */
static bool is_read_or_refused(const char *text, size_t length)
{
	char *copy = malloc(length ? length : 1);
	struct nod_error err = {""};
	memcpy(copy, text, length);
	struct nod_vehicle *v = nod_vehicle_parse(copy, length, "cut", &err);
	bool fine = v ? !*err.text : !strncmp(err.text, "cut:", 4);
	nod_vehicle_free(v);
	free(copy);
	return fine;
}

static void test_the_example_cut_anywhere(void **state)
{
	(void)state;
	size_t size;
	char *text = read_example(&size);
	for (size_t length = 0; length <= size; length++)
		if (!is_read_or_refused(text, length))
			fail_msg("cut at %zu", length);
	free(text);
}

static void test_the_example_with_a_wrong_byte_anywhere(void **state)
{
	(void)state;
	static const char wrong[] = "{}[]:,#\"'&*!|>%@`-\t\n\0\xC2\xFF 0F";
	size_t size;
	char *text = read_example(&size);
	for (size_t at = 0; at < size; at++) {
		char kept = text[at];
		text[at] = wrong[at % (sizeof(wrong) - 1)];
		if (!is_read_or_refused(text, size))
			fail_msg("byte %zu", at);
		text[at] = kept;
	}
	free(text);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_keys),
		cmocka_unit_test(test_shapes),
		cmocka_unit_test(test_yaml_that_a_map_does_not_need),
		cmocka_unit_test(test_numbers),
		cmocka_unit_test(test_words_and_addresses),
		cmocka_unit_test(test_ids),
		cmocka_unit_test(test_claims_that_collide),
		cmocka_unit_test(test_claims_that_do_not_collide),
		cmocka_unit_test(test_forms_of_values),
		cmocka_unit_test(test_sizes_are_bounded),
		cmocka_unit_test(test_a_large_map_is_read),
		cmocka_unit_test(test_files_that_cannot_be_opened),
		cmocka_unit_test(test_the_example_cut_anywhere),
		cmocka_unit_test(test_the_example_with_a_wrong_byte_anywhere),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
