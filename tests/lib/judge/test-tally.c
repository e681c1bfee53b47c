/* SPDX-License-Identifier: MIT */
#include "scene.h"

#define MIN (60 * 1000)

#define NETWORK(name, interface, management)                                                  \
	"  " name ": { interfaces: [" interface "], bitrate: 500000, sleeps within: 10 min, " \
	"quiet time: 3 s, management: { " management " } }\n"

#define MODULES                                                                    \
	"modules:\n"                                                               \
	"  roof unit: { ids: [100], node: 1, fuses: [F1] }\n"                      \
	"  seat unit: { ids: [200], node: 2, fuses: [F2] }\n"                      \
	"  door unit: { ids: [300], node: 3, fuses: [F3] }\n"                      \
	"  lamp unit: { ids: [400], node: 4, fuses: [F4] }\n"                      \
	"fuses: { F1: { rating: 5 A }, F2: { rating: 5 A }, F3: { rating: 5 A }, " \
	"F4: { rating: 5 A } }\n"

static const char autosar[] = "networks:\n" NETWORK(
	"body", "can0",
	"scheme: autosar, ids: 500-53F, node byte: 0, control byte: 1, "
	"partial network bytes: 4-5") MODULES;

static const char osek[] = "networks:\n" NETWORK("body", "can0", "scheme: osek, ids: 500-53F")
	MODULES;

static void begin(struct scene *s, const char *vehicle)
{
	scene_begin(s, vehicle);
	mark_at(s, 0, NOD_MARK_LOCKED, "");
}

/* All talk on; of the NM nodes only the seat unit still requests. */
static void test_autosar_the_one_that_still_requests_holds(void **state)
{
	(void)state;
	struct scene s;
	begin(&s, autosar);
	PLAY(&s, {0, "100#00", 0, 30 * MIN, 100}, {0, "200#00", 10, 30 * MIN, 100},
	     {0, "300#00", 20, 30 * MIN, 100}, {0, "501#0100000000000000", 0, 2 * MIN, 500},
	     {0, "502#0200000000000000", 40, 30 * MIN, 500},
	     {0, "503#0300000000000000", 80, 2 * MIN, 500});
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_string_equal(f->suspects[0].name, "seat unit");
	assert_true(f->suspects[0].probability > 0.9);
	assert_int_equal(f->suspects[0].role, NOD_ROLE_HOLDER);
	assert_non_null(strstr(evidence(f, "seat unit", NOD_EV_NM_ONLY_REQUEST),
			       "Of 3 modules that say when they need"));
	assert_true(probability(f, "roof unit") < 0.05);
	scene_end(&s);
}

/* Who was stirred up by the person that comes to pull a fuse asks later than all others: that
 * is no release of the network, nor the opposite of one. */
static void test_a_request_after_all_others_is_no_release(void **state)
{
	(void)state;
	struct scene s;
	begin(&s, autosar);
	PLAY(&s, {0, "100#00", 0, 20 * MIN, 100}, {0, "200#00", 10, 20 * MIN, 100},
	     {0, "300#00", 20, 20 * MIN, 100}, {0, "501#0100000000000000", 0, 2 * MIN, 500},
	     {0, "502#0200000000000000", 40, 18 * MIN, 500},
	     {0, "503#0300000000000000", 80, 2 * MIN, 500},
	     {0, "503#0300000000000000", 20 * MIN - 20000, 20 * MIN, 500});
	mark_at(&s, 20 * MIN, NOD_MARK_ISOLATED, "F1");
	PLAY(&s, {0, "200#00", 20 * MIN, 23 * MIN, 100}, {0, "300#00", 20 * MIN, 23 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 23 * MIN);
	for (size_t i = 0; i < f->suspect_count; i++)
		for (size_t k = 0; k < f->suspects[i].evidence_count; k++)
			if (f->suspects[i].evidence[k].kind == NOD_EV_NM_READY)
				assert_true(f->suspects[i].evidence[k].weight < 0);
	assert_null(evidence(f, "door unit", NOD_EV_NM_ONLY_REQUEST));
	assert_non_null(evidence(f, "seat unit", NOD_EV_NM_ONLY_REQUEST));
	assert_true(probability(f, "door unit") < 0.5);
	scene_end(&s);
}

/* Two that request are both likely, the one that released is not. */
/* It had let go, and asks again since somebody came. */
static void test_a_request_that_began_with_the_approach_does_not_hold(void **state)
{
	(void)state;
	struct scene s;
	begin(&s, autosar);
	PLAY(&s, {0, "100#00", 0, 40 * MIN, 100}, {0, "200#00", 10, 40 * MIN, 100},
	     {0, "300#00", 20, 40 * MIN, 100}, {0, "501#0100000000000000", 0, 2 * MIN, 500},
	     {0, "502#0200000000000000", 40, 40 * MIN, 500},
	     {0, "503#0300000000000000", 80, 38 * MIN, 500},
	     {0, "503#0300000000000000", 40 * MIN - 20000, 40 * MIN, 500});
	mark_at(&s, 40 * MIN, NOD_MARK_ISOLATED, "F1");
	PLAY(&s, {0, "200#00", 40 * MIN, 43 * MIN, 100}, {0, "300#00", 40 * MIN, 43 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 43 * MIN);
	assert_non_null(evidence(f, "seat unit", NOD_EV_NM_ONLY_REQUEST));
	assert_null(evidence(f, "door unit", NOD_EV_NM_REQUEST));
	scene_end(&s);
}

static void test_two_that_still_request_may_both_hold(void **state)
{
	(void)state;
	struct scene s;
	begin(&s, autosar);
	PLAY(&s, {0, "100#00", 0, 30 * MIN, 100}, {0, "200#00", 10, 30 * MIN, 100},
	     {0, "300#00", 20, 30 * MIN, 100}, {0, "501#0100000000000000", 0, 30 * MIN, 500},
	     {0, "502#0200000000000000", 40, 30 * MIN, 500},
	     {0, "503#0300000000000000", 80, 2 * MIN, 500},
	     {0, "504#0400000000000000", 90, 2 * MIN, 500});
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_true(probability(f, "roof unit") > 0.4);
	assert_true(probability(f, "seat unit") > 0.4);
	assert_true(probability(f, "door unit") < 0.05);
	assert_null(evidence(f, "roof unit", NOD_EV_NM_ONLY_REQUEST));
	assert_non_null(strstr(evidence(f, "roof unit", NOD_EV_NM_REQUEST), "2 of 4 modules"));
	scene_end(&s);
}

/* When all request, the protocol tells nothing of any. */
static void test_when_all_request_nobody_is_blamed_for_it(void **state)
{
	(void)state;
	struct scene s;
	begin(&s, autosar);
	PLAY(&s, {0, "501#0100000000000000", 0, 30 * MIN, 500},
	     {0, "502#0200000000000000", 40, 30 * MIN, 500},
	     {0, "503#0300000000000000", 80, 30 * MIN, 500});
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_int_equal(f->culprit, NOD_NONE);
	assert_null(evidence(f, "roof unit", NOD_EV_NM_REQUEST));
	scene_end(&s);
}

static void test_partial_networks_it_requests_are_named(void **state)
{
	(void)state;
	struct scene s;
	begin(&s, autosar);
	PLAY(&s, {0, "501#0100000000000000", 0, 2 * MIN, 500},
	     {0, "502#0240000002000000", 40, 30 * MIN, 500},
	     {0, "503#0300000000000000", 80, 2 * MIN, 500}, {0, "100#00", 0, 30 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_string_equal(f->suspects[0].name, "seat unit");
	assert_non_null(evidence(f, "seat unit", NOD_EV_PARTIAL_REQUEST));
	assert_null(evidence(f, "roof unit", NOD_EV_PARTIAL_REQUEST));
	scene_end(&s);
}

/* Ring 1 > 2 > 3: destination, then the opcode (ring 02, sleep indication 10). */
static void test_osek_the_one_without_sleep_indication_holds(void **state)
{
	(void)state;
	struct scene s;
	begin(&s, osek);
	PLAY(&s, {0, "501#0202000000000000", 0, MIN, 300},
	     {0, "502#0302000000000000", 100, MIN, 300},
	     {0, "503#0102000000000000", 200, MIN, 300});
	PLAY(&s, {0, "501#0212000000000000", MIN, 30 * MIN, 300},
	     {0, "502#0312000000000000", MIN + 100, 30 * MIN, 300},
	     {0, "503#0102000000000000", MIN + 200, 30 * MIN, 300},
	     {0, "100#00", MIN, 30 * MIN, 1000});
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_string_equal(f->suspects[0].name, "door unit");
	assert_true(f->suspects[0].probability > 0.9);
	assert_non_null(evidence(f, "door unit", NOD_EV_NM_ONLY_REQUEST));
	assert_true(probability(f, "roof unit") < 0.01); /* it gave the sleep indication */
	scene_end(&s);
}

/* Who is ready to sleep but for a moment now and then does not ask all the time. */
static void test_osek_who_asks_now_and_then_holds_nothing(void **state)
{
	(void)state;
	struct scene s;
	begin(&s, osek);
	PLAY(&s, {0, "100#00", 0, 30 * MIN, 1000});
	for (int64_t at = 0; at < 30 * MIN; at += 300)
		PLAY(&s, {0, "501#0212000000000000", at, at + 1, 300},
		     {0, "502#0312000000000000", at + 100, at + 101, 300},
		     {0, at % 3000 ? "503#0112000000000000" : "503#0102000000000000", at + 200,
		      at + 201, 300});
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_null(evidence(f, "door unit", NOD_EV_NM_ONLY_REQUEST));
	assert_null(evidence(f, "door unit", NOD_EV_NM_REQUEST));
	scene_end(&s);
}

/* Limp home: opcode 04, sent to itself. */
static void test_osek_limp_home_is_seen(void **state)
{
	(void)state;
	struct scene s;
	begin(&s, osek);
	PLAY(&s, {0, "501#0212000000000000", 0, 30 * MIN, 300},
	     {0, "502#0112000000000000", 100, 30 * MIN, 300},
	     {0, "503#0304000000000000", 200, 30 * MIN, 1000});
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_non_null(evidence(f, "door unit", NOD_EV_NM_LIMP_HOME));
	assert_null(evidence(f, "roof unit", NOD_EV_NM_LIMP_HOME));
	assert_string_equal(f->suspects[0].name, "door unit");
	scene_end(&s);
}

static const char joined[] = "networks:\n" NETWORK("body", "can0", "scheme: none") NETWORK(
	"drive", "can1",
	"scheme: none") "modules:\n"
			"  gateway: { networks: [body, drive], ids: [010, 011], gateway: yes }\n"
			"  seat unit: { networks: [body], ids: [200] }\n"
			"  roof unit: { networks: [body], ids: [100] }\n"
			"  engine unit: { networks: [drive], ids: [400] }\n";

/* The gateway is awake on both because one is: it passes it on. */
static void test_a_gateway_that_passes_it_on_is_not_the_cause(void **state)
{
	(void)state;
	struct scene s;
	begin(&s, joined);
	PLAY(&s, {0, "200#00", 0, 30 * MIN, 100}, {0, "010#00", 10, 30 * MIN, 100},
	     {0, "100#00", 0, 2 * MIN, 100}, {1, "011#00", 20, 30 * MIN, 100},
	     {1, "400#00", 0, 2 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_string_equal(f->suspects[0].name, "seat unit");
	assert_true(probability(f, "gateway") < probability(f, "seat unit") / 2);
	assert_true(probability(f, "engine unit") < 0.05);
	scene_end(&s);
}

/* What requests the network while a tester talks may do so for the tester. */
static void test_a_tester_explains_the_requests_of_others(void **state)
{
	(void)state;
	struct scene s;
	begin(&s, autosar);
	PLAY(&s, {0, "100#00", 0, 30 * MIN, 100}, {0, "501#0100000000000000", 0, 2 * MIN, 500},
	     {0, "502#0200000000000000", 40, 30 * MIN, 500},
	     {0, "503#0300000000000000", 80, 2 * MIN, 500},
	     {0, "7DF#023E800000000000", 0, 30 * MIN, 2000});
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_int_equal(f->suspects[0].role, NOD_ROLE_TESTER);
	assert_true(probability(f, "seat unit") < 0.1);
	scene_end(&s);
}

/* Gone before the network was held, it explains nothing. */
static void test_a_tester_that_has_gone_explains_nothing(void **state)
{
	(void)state;
	struct scene s;
	begin(&s, autosar);
	PLAY(&s, {0, "100#00", 0, 30 * MIN, 100}, {0, "501#0100000000000000", 0, 2 * MIN, 500},
	     {0, "502#0200000000000000", 40, 30 * MIN, 500},
	     {0, "503#0300000000000000", 80, 2 * MIN, 500},
	     {0, "7DF#023E800000000000", 0, MIN, 2000});
	assert_string_equal(found_at(&s, 30 * MIN)->suspects[0].name, "seat unit");
	scene_end(&s);
}

/* Before the deadline it may all be in order; who is seen so far is listed. */
static void test_before_the_deadline_it_is_said_with_reserve(void **state)
{
	(void)state;
	struct scene s;
	begin(&s, autosar);
	PLAY(&s, {0, "100#00", 0, 8 * MIN, 100}, {0, "501#0100000000000000", 0, 2 * MIN, 500},
	     {0, "502#0200000000000000", 40, 8 * MIN, 500},
	     {0, "503#0300000000000000", 80, 2 * MIN, 500});
	const struct nod_findings *f = found_at(&s, 8 * MIN);
	assert_int_equal(f->verdict, NOD_VERDICT_CANNOT_TELL);
	assert_int_equal(f->culprit, NOD_NONE);
	assert_int_equal(f->suspects[0].kind, NOD_SUSPECT_NOTHING);
	assert_string_equal(f->suspects[1].name, "seat unit");
	assert_true(f->suspects[1].probability < 0.5);
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_autosar_the_one_that_still_requests_holds),
		cmocka_unit_test(test_a_request_after_all_others_is_no_release),
		cmocka_unit_test(test_a_request_that_began_with_the_approach_does_not_hold),
		cmocka_unit_test(test_two_that_still_request_may_both_hold),
		cmocka_unit_test(test_when_all_request_nobody_is_blamed_for_it),
		cmocka_unit_test(test_partial_networks_it_requests_are_named),
		cmocka_unit_test(test_osek_the_one_without_sleep_indication_holds),
		cmocka_unit_test(test_osek_who_asks_now_and_then_holds_nothing),
		cmocka_unit_test(test_osek_limp_home_is_seen),
		cmocka_unit_test(test_a_gateway_that_passes_it_on_is_not_the_cause),
		cmocka_unit_test(test_a_tester_explains_the_requests_of_others),
		cmocka_unit_test(test_a_tester_that_has_gone_explains_nothing),
		cmocka_unit_test(test_before_the_deadline_it_is_said_with_reserve),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
