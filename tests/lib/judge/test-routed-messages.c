/* SPDX-License-Identifier: MIT */
#include "scene.h"

#define MIN (60 * 1000)

#define NETWORKS                                                                                   \
	"networks:\n"                                                                              \
	"  body: { interfaces: [can0], bitrate: 500000, sleeps within: 10 min, quiet time: 3 s, "  \
	"management: { scheme: none } }\n"                                                         \
	"  drive: { interfaces: [can1], bitrate: 500000, sleeps within: 10 min, quiet time: 3 s, " \
	"management: { scheme: none } }\n"

#define MODULES                              \
	"modules:\n"                         \
	"  roof unit: { ids: [100, 101] }\n" \
	"  seat unit: { ids: [200] }\n"      \
	"  engine unit: { ids: [400] }\n"

static const char no_gateway[] = NETWORKS MODULES;
static const char with_gateway[] = NETWORKS MODULES
	"  gateway: { ids: [010, 011], gateway: yes }\n";

/* The roof unit talks on alone on body; 101 is handed on to drive, 3 ms later. */
static const struct nod_findings *handed_on(struct scene *s, const char *vehicle)
{
	scene_begin(s, vehicle);
	mark_at(s, 0, NOD_MARK_LOCKED, "");
	PLAY(s, {0, "100#00", 0, 30 * MIN, 100}, {0, "101#00", 5, 30 * MIN, 100},
	     {0, "200#00", 10, 2 * MIN, 100}, {1, "400#00", 20, 2 * MIN, 100},
	     {1, "101#00", 8, 30 * MIN, 100});
	return found_at(s, 30 * MIN);
}

static int sender_of(const struct nod_findings *f, uint32_t id, int network)
{
	for (size_t i = 0; i < f->ident_count; i++)
		if (f->idents[i].id == id && f->idents[i].network == network)
			return f->idents[i].sender;
	return NOD_NONE;
}

/* It stays what it is, and where it is at home. */
static void test_who_is_routed_is_no_gateway(void **state)
{
	(void)state;
	struct scene s;
	const struct nod_findings *f = handed_on(&s, no_gateway);
	int roof = sender_of(f, 0x101, 0);
	assert_string_equal(f->senders[roof].name, "roof unit");
	assert_false(f->senders[roof].gateway);
	assert_string_equal(f->suspects[0].name, "roof unit");
	assert_true(f->suspects[0].probability > 0.9);
	scene_end(&s);
}

static void test_the_copy_is_a_gateways_that_the_map_does_not_know(void **state)
{
	(void)state;
	struct scene s;
	const struct nod_findings *f = handed_on(&s, no_gateway);
	int copy = sender_of(f, 0x101, 1);
	assert_int_not_equal(copy, sender_of(f, 0x101, 0));
	assert_true(f->senders[copy].gateway);
	assert_non_null(strstr(f->senders[copy].name, "hands on messages of roof unit"));
	scene_end(&s);
}

static void test_the_copy_is_the_maps_gateways(void **state)
{
	(void)state;
	struct scene s;
	const struct nod_findings *f = handed_on(&s, with_gateway);
	assert_string_equal(f->senders[sender_of(f, 0x101, 1)].name, "gateway");
	assert_string_equal(f->senders[sender_of(f, 0x101, 0)].name, "roof unit");
	scene_end(&s);
}

/* Messages of its own on both are a gateway's. */
static void test_own_messages_on_two_networks_are_a_gateways(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, no_gateway);
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, 5 * MIN, 100}, {1, "101#00", 5, 5 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 5 * MIN);
	assert_int_equal(sender_of(f, 0x100, 0), sender_of(f, 0x101, 1));
	assert_true(f->senders[sender_of(f, 0x100, 0)].gateway);
	scene_end(&s);
}

static const char two_nodes[] =
	"networks:\n"
	"  body: { interfaces: [can0], bitrate: 500000, sleeps within: 60 s, quiet time: 6 s, "
	"management: { scheme: autosar, ids: 500-53F } }\n"
	"modules:\n"
	"  roof unit: { networks: [body], ids: [100], node: 1 }\n"
	"  seat unit: { networks: [body], ids: [200], node: 2 }\n"
	"  door unit: { networks: [body], ids: [300] }\n";

/* Both ask to the end, the seat unit with a coordinator's id (release 3.2): it asks because the
 * other does. A bit that both have is none. */
static void test_of_two_nodes_one_may_be_a_coordinator(void **state)
{
	(void)state;
	for (int both = 0; both < 2; both++) {
		struct scene s;
		scene_begin(&s, two_nodes);
		mark_at(&s, 0, NOD_MARK_LOCKED, "");
		PLAY(&s,
		     {0, both ? "501#0102FFFFFFFFFFFF" : "501#0100FFFFFFFFFFFF", 0, 5 * MIN, 500},
		     {0, "502#0202FFFFFFFFFFFF", 5, 5 * MIN, 500}, {0, "100#00", 0, 5 * MIN, 100},
		     {0, "200#00", 10, 5 * MIN, 100}, {0, "300#00", 10, 5 * MIN, 100});
		const struct nod_findings *f = found_at(&s, 5 * MIN);
		assert_int_equal(f->senders[sender_of(f, 0x502, 0)].gateway, !both);
		assert_false(f->senders[sender_of(f, 0x501, 0)].gateway);
		assert_string_equal(f->suspects[0].name, "roof unit");
		assert_true(f->suspects[0].probability > 0.9);
		assert_int_equal(f->suspects[1].probability > 0.9, both);
		scene_end(&s);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_who_is_routed_is_no_gateway),
		cmocka_unit_test(test_the_copy_is_a_gateways_that_the_map_does_not_know),
		cmocka_unit_test(test_the_copy_is_the_maps_gateways),
		cmocka_unit_test(test_own_messages_on_two_networks_are_a_gateways),
		cmocka_unit_test(test_of_two_nodes_one_may_be_a_coordinator),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
