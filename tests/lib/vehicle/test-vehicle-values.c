/* SPDX-License-Identifier: MIT */
/* Numbers, words and addresses of a vehicle file: what is read, and what is refused. */
#include "refused.h"

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

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_numbers),
		cmocka_unit_test(test_words_and_addresses),
		cmocka_unit_test(test_forms_of_values),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
