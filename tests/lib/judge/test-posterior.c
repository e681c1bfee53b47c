/* SPDX-License-Identifier: MIT */
#include <math.h>

#include "scene.h"

#define MIN (60 * 1000)

#define NETWORK(name, interface)                                                              \
	"  " name ": { interfaces: [" interface "], bitrate: 500000, sleeps within: 10 min, " \
	"quiet time: 3 s, management: { scheme: none } }\n"

static const char one[] = "networks:\n" NETWORK("body", "can0") "modules:\n"
								"  roof unit: { ids: [100] }\n"
								"  seat unit: { ids: [200] }\n"
								"  door unit: { ids: [300] }\n";

static const char two[] = "networks:\n" NETWORK("body", "can0") NETWORK(
	"drive", "can1") "modules:\n"
			 "  roof unit: { networks: [body], ids: [100] }\n"
			 "  seat unit: { networks: [body], ids: [200] }\n"
			 "  engine unit: { networks: [drive], ids: [400] }\n"
			 "  gearbox unit: { networks: [drive], ids: [500] }\n"
			 "  gateway: { networks: [body, drive], ids: [010, 011], gateway: yes }\n";

static double sum(const struct nod_findings *f)
{
	double total = 0;
	for (size_t i = 0; i < f->suspect_count; i++)
		total += f->suspects[i].probability;
	return total;
}

static void begin(struct scene *s, const char *vehicle)
{
	scene_begin(s, vehicle);
	mark_at(s, 0, NOD_MARK_LOCKED, "");
}

static void check_order(const struct nod_findings *f)
{
	for (size_t i = 0; i < f->suspect_count; i++) {
		assert_true(f->suspects[i].probability >= 0 && f->suspects[i].probability <= 1);
		if (i)
			assert_true(f->suspects[i - 1].probability >= f->suspects[i].probability);
	}
}

/* One network, one cause or perhaps two: the sum is one, or a little more. */
static void test_probabilities_of_one_network_add_up_to_one(void **state)
{
	(void)state;
	struct scene s;
	begin(&s, one);
	PLAY(&s, {0, "100#00", 0, 30 * MIN, 100}, {0, "200#00", 10, 30 * MIN, 100},
	     {0, "300#00", 20, 30 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	check_order(f);
	assert_true(sum(f) > 0.9 && sum(f) < 1.2);
	scene_end(&s);
}

static void test_equal_evidence_gives_equal_probability(void **state)
{
	(void)state;
	struct scene s;
	begin(&s, one);
	PLAY(&s, {0, "100#00", 0, 30 * MIN, 100}, {0, "200#00", 10, 30 * MIN, 100},
	     {0, "300#00", 20, 30 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_true(fabs(probability(f, "roof unit") - probability(f, "seat unit")) < 0.02);
	assert_true(fabs(probability(f, "roof unit") - probability(f, "door unit")) < 0.02);
	scene_end(&s);
}

/* Something that does not show is never excluded. */
static void test_nothing_is_certain(void **state)
{
	(void)state;
	struct scene s;
	begin(&s, one);
	PLAY(&s, {0, "100#00", 0, 60 * MIN, 100}, {0, "200#00", 10, 2 * MIN, 100},
	     {0, "300#00", 20, 2 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 60 * MIN);
	assert_true(probability(f, "roof unit") > 0.9 && probability(f, "roof unit") < 0.995);
	assert_true(probability(f, "something that does not show on these networks") > 0.01);
	scene_end(&s);
}

/* The log-odds that something loses by being unplugged in vain, at 20 min, for four of the
 * ten minutes that its networks are allowed: 3.5 of them. */
static double lost_by(struct scene *s, const char *subject, void (*go_on)(struct scene *s))
{
	double before = probability(found_at(s, 20 * MIN - 50), subject);
	mark_at(s, 20 * MIN, NOD_MARK_ISOLATED, subject);
	go_on(s);
	double after = probability(found_at(s, 24 * MIN - 50), subject);
	scene_end(s);
	return log(before / (1 - before)) - log(after / (1 - after));
}

static void one_goes_on(struct scene *s)
{
	PLAY(s, {0, "100#00", 20 * MIN, 24 * MIN, 100}, {0, "200#00", 20 * MIN, 24 * MIN, 100});
}

static void two_go_on(struct scene *s)
{
	PLAY(s, {0, "100#00", 20 * MIN, 24 * MIN, 100}, {0, "200#00", 20 * MIN, 24 * MIN, 100},
	     {1, "400#00", 20 * MIN, 24 * MIN, 100}, {1, "500#00", 20 * MIN, 24 * MIN, 100});
}

/* What was done to the car was done once, not once on each of its networks. */
static void test_unplugged_in_vain_counts_once_for_a_gateway(void **state)
{
	(void)state;
	struct scene s;
	begin(&s, one);
	PLAY(&s, {0, "100#00", 0, 20 * MIN, 100}, {0, "200#00", 10, 20 * MIN, 100},
	     {0, "300#00", 20, 20 * MIN, 100});
	double module = lost_by(&s, "door unit", one_goes_on);
	begin(&s, two);
	PLAY(&s, {0, "100#00", 0, 20 * MIN, 100}, {0, "200#00", 10, 20 * MIN, 100},
	     {0, "010#00", 20, 20 * MIN, 100}, {1, "400#00", 0, 20 * MIN, 100},
	     {1, "500#00", 10, 20 * MIN, 100}, {1, "011#00", 20, 20 * MIN, 100});
	double gateway = lost_by(&s, "gateway", two_go_on);
	assert_true(module > 3 && module < 4.5);
	/* less, since with it gone nothing passes wakefulness on: every rival loses as well */
	assert_true(gateway > 0.5 && gateway < module);
}

/* A gateway joins the networks: the lone talker of one explains both. */
static void test_one_cause_explains_joined_networks(void **state)
{
	(void)state;
	struct scene s;
	begin(&s, two);
	PLAY(&s, {0, "100#00", 0, 30 * MIN, 100}, {0, "200#00", 10, 2 * MIN, 100},
	     {0, "010#00", 0, 30 * MIN, 1000}, {1, "011#00", 0, 30 * MIN, 1000},
	     {1, "400#00", 0, 30 * MIN, 100}, {1, "500#00", 10, 30 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	check_order(f);
	assert_string_equal(f->suspects[0].name, "roof unit");
	assert_true(probability(f, "engine unit") < 0.3);
	assert_true(probability(f, "gearbox unit") < 0.3);
	scene_end(&s);
}

/* A tester that talks on two networks is one cause, however they are combined: it is not
 * counted twice. */
static void test_a_tester_on_two_networks_is_counted_once(void **state)
{
	(void)state;
	struct scene s;
	begin(&s, two);
	PLAY(&s, {0, "100#00", 0, 2 * MIN, 100}, {1, "400#00", 0, 2 * MIN, 100},
	     {0, "7DF#023E800000000000", 10, 60 * MIN, 2000},
	     {1, "7DF#023E800000000000", 10, 60 * MIN, 2000});
	const struct nod_findings *f = found_at(&s, 60 * MIN);
	check_order(f);
	assert_int_equal(f->suspects[0].role, NOD_ROLE_TESTER);
	assert_true(f->suspects[0].probability > 0.9 && f->suspects[0].probability < 0.986);
	scene_end(&s);
}

/* A network that slept in time has no suspects of its own. */
static void test_who_sits_on_a_sleeping_network_is_no_suspect(void **state)
{
	(void)state;
	struct scene s;
	begin(&s, two);
	PLAY(&s, {0, "100#00", 0, 30 * MIN, 100}, {0, "200#00", 10, 30 * MIN, 100},
	     {1, "400#00", 0, 2 * MIN, 100}, {1, "500#00", 10, 2 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_true(probability(f, "engine unit") == 0);
	assert_true(probability(f, "roof unit") > 0.2);
	scene_end(&s);
}

/* What an isolation takes from one goes to the others. */
static void test_what_one_is_cleared_of_the_others_gain(void **state)
{
	(void)state;
	struct scene s;
	begin(&s, one);
	PLAY(&s, {0, "100#00", 0, 20 * MIN, 100}, {0, "200#00", 10, 20 * MIN, 100},
	     {0, "300#00", 20, 20 * MIN, 100});
	double before = probability(found_at(&s, 20 * MIN - 100), "seat unit");
	mark_at(&s, 20 * MIN, NOD_MARK_ISOLATED, "roof unit");
	PLAY(&s, {0, "200#00", 20 * MIN, 32 * MIN, 100}, {0, "300#00", 20 * MIN, 32 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 32 * MIN - 100);
	assert_true(probability(f, "roof unit") < 0.02);
	assert_true(probability(f, "seat unit") > before * 1.2);
	assert_true(sum(f) > 0.9 && sum(f) < 1.2);
	scene_end(&s);
}

/* Both are held. On drive, whose other units have let go, only one that the map does not know
 * still asks; the map knows the gateway by its data only. */
static void hold_by_unknown_node(struct scene *s, const char *gateway_node)
{
	char map[900];

	snprintf(
		map, sizeof(map),
		"networks:\n" NETWORK(
			"body",
			"can0") "  drive: { interfaces: [can1], bitrate: 500000, "
				"sleeps within: 10 min, quiet time: 3 s, "
				"management: { scheme: autosar, ids: 640-65F } }\n"
				"modules:\n"
				"  roof unit: { networks: [body], ids: [100] }\n"
				"  seat unit: { networks: [body], ids: [200] }\n"
				"  engine unit: { networks: [drive], ids: [400], node: 44 }\n"
				"  gearbox unit: { networks: [drive], ids: [500], node: 45 }\n"
				"  gateway: { networks: [body, drive], ids: [010, 011], gateway: yes%s }\n",
		gateway_node);
	begin(s, map);
	PLAY(s, {0, "100#00", 0, 30 * MIN, 100}, {0, "200#00", 10, 30 * MIN, 100},
	     {0, "010#00", 20, 30 * MIN, 100}, {1, "011#00", 0, 30 * MIN, 100},
	     {1, "400#00", 10, 30 * MIN, 100}, {1, "500#00", 20, 30 * MIN, 100},
	     {1, "644#4400000000000000", 5, 2 * MIN, 500},
	     {1, "645#4500000000000000", 15, 2 * MIN, 500},
	     {1, "646#4600000000000000", 15, 2 * MIN, 500},
	     {1, "643#4300000000000000", 25, 30 * MIN, 500});
}

static double of_unknown(struct scene *s)
{
	const struct nod_findings *f = found_at(s, 30 * MIN);

	for (size_t i = 0; i < f->suspect_count; i++)
		if (strstr(f->suspects[i].name, "643"))
			return f->suspects[i].probability;
	return 0;
}

static void test_an_unknown_node_may_be_the_gateway_s(void **state)
{
	(void)state;
	struct scene silent, speaks;
	hold_by_unknown_node(&silent, "");
	hold_by_unknown_node(&speaks, ", node: 46");
	double may_be = of_unknown(&silent), is_not = of_unknown(&speaks);
	assert_true(may_be < 0.5);
	assert_true(is_not > 0.7);
	scene_end(&silent);
	scene_end(&speaks);
}

/* Two of four still ask for the network, together; then both are isolated in vain, which weighs
 * on them together as on one alone. */
static void test_what_speaks_against_its_members_weighs_on_the_set(void **state)
{
	(void)state;
	static const char map[] =
		"networks:\n  body: { interfaces: [can0], bitrate: 500000, sleeps within: 10 min, "
		"quiet time: 3 s, management: { scheme: autosar, ids: 500-53F, node byte: 0, "
		"control byte: 1 } }\n"
		"modules:\n"
		"  roof unit: { ids: [100], node: 1, fuses: [F1] }\n"
		"  seat unit: { ids: [200], node: 2, fuses: [F1] }\n"
		"  door unit: { ids: [300], node: 3 }\n"
		"  lamp unit: { ids: [400], node: 4 }\n"
		"fuses: { F1: { rating: 5 A } }\n";
	struct scene s;
	begin(&s, map);
	PLAY(&s, {0, "501#0100000000000000", 0, 30 * MIN, 500},
	     {0, "502#0200000000000000", 40, 30 * MIN, 500},
	     {0, "503#0300000000000000", 80, 2 * MIN, 500},
	     {0, "504#0400000000000000", 90, 2 * MIN, 500}, {0, "100#00", 0, 30 * MIN, 1000},
	     {0, "200#00", 10, 30 * MIN, 1000}, {0, "300#00", 20, 30 * MIN, 1000},
	     {0, "400#00", 30, 30 * MIN, 1000});
	double before = probability(found_at(&s, 30 * MIN - 10), "roof unit");
	mark_at(&s, 30 * MIN, NOD_MARK_ISOLATED, "F1");
	PLAY(&s, {0, "300#00", 30 * MIN + 20, 42 * MIN, 1000},
	     {0, "400#00", 30 * MIN + 30, 42 * MIN, 1000});
	const struct nod_findings *f = found_at(&s, 42 * MIN);
	assert_non_null(evidence(f, "roof unit", NOD_EV_ISOLATED_UNCHANGED));
	assert_true(probability(f, "roof unit") < before);
	scene_end(&s);
}

/* A short pause of a lone talker may be the recorder's: it did not wake what did not sleep. */
static void test_who_woke_it_is_no_likelier_than_that_it_was_woken(void **state)
{
	(void)state;
	for (int times = 1; times <= 6; times += 5) {
		struct scene s;
		scene_begin(&s, NULL);
		for (int i = 0; i < 12; i++) {
			char text[] = "100#00";
			text[1] = (char)('0' + i % 10);
			text[2] = (char)('0' + i / 10);
			PLAY(&s, {0, text, 7 * i, 60000 + 1500 * i, 100 + 10 * i});
		}
		PLAY(&s, {0, "7A1#00", 78000, 120000, 100});
		for (int i = 0; i < times; i++)
			PLAY(&s, {0, "7A1#00", 138037 + 60071 * i, 180000 + 60071 * i, 100});
		const struct nod_findings *f = found_at(&s, 180000 + 60071 * (times - 1));
		double never = 1;
		for (size_t i = 1; i < f->networks[0].span_count; i++)
			never *= 1 - fmax(f->networks[0].spans[i - 1].asleep, 0.6);
		assert_int_equal(f->verdict, NOD_VERDICT_WOKEN);
		assert_true(f->networks[0].spans[0].asleep < 0.9);
		check_order(f);
		assert_true(f->suspects[0].probability <= 1 - never);
		assert_true(sum(f) > 0.9 && sum(f) < 1.2);
		if (times == 1)
			assert_string_equal(f->suspects[1].name, "nobody: it may not have slept");
		else
			assert_true(f->suspects[0].probability > 0.8);
		scene_end(&s);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_probabilities_of_one_network_add_up_to_one),
		cmocka_unit_test(test_equal_evidence_gives_equal_probability),
		cmocka_unit_test(test_nothing_is_certain),
		cmocka_unit_test(test_an_unknown_node_may_be_the_gateway_s),
		cmocka_unit_test(test_unplugged_in_vain_counts_once_for_a_gateway),
		cmocka_unit_test(test_one_cause_explains_joined_networks),
		cmocka_unit_test(test_a_tester_on_two_networks_is_counted_once),
		cmocka_unit_test(test_who_sits_on_a_sleeping_network_is_no_suspect),
		cmocka_unit_test(test_what_one_is_cleared_of_the_others_gain),
		cmocka_unit_test(test_what_speaks_against_its_members_weighs_on_the_set),
		cmocka_unit_test(test_who_woke_it_is_no_likelier_than_that_it_was_woken),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
