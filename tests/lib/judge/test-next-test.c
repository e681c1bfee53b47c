/* SPDX-License-Identifier: MIT */
#include "scene.h"

#define MIN (60 * 1000)

#define NETWORK(within)                   \
	"networks:\n"                     \
	"  body:\n"                       \
	"    interfaces: [can0]\n"        \
	"    bitrate: 500000\n"           \
	"    sleeps within: " within "\n" \
	"    quiet time: 3 s\n"           \
	"    management: { scheme: none }\n"

#define MODULES                                                             \
	"modules:\n"                                                        \
	"  roof unit: { ids: [100], fuses: [F1] }\n"                        \
	"  seat unit: { ids: [200], fuses: [F2], place: under the seat }\n" \
	"  door unit: { ids: [300], fuses: [F3] }\n"                        \
	"fuses:\n"                                                          \
	"  F1: { rating: 10 A }\n"                                          \
	"  F2: { rating: 15 A, feeds: [seat heater] }\n"                    \
	"  F3: { rating: 5 A }\n"

static const char plain[] = NETWORK("10 min") MODULES;

/* All three talk on for 30 min: any may be it. */
static void talk_on(struct scene *s, const char *vehicle)
{
	scene_begin(s, vehicle);
	mark_at(s, 0, NOD_MARK_STARTED, "");
	mark_at(s, 0, NOD_MARK_LOCKED, "");
	PLAY(s, {0, "100#00", 0, 30 * MIN, 100}, {0, "200#00", 10, 30 * MIN, 100},
	     {0, "300#00", 20, 30 * MIN, 100});
}

/* The others stop, seat unit goes on alone. */
static void leave_seat_alone(struct scene *s, const char *vehicle)
{
	scene_begin(s, vehicle);
	mark_at(s, 0, NOD_MARK_STARTED, "");
	mark_at(s, 0, NOD_MARK_LOCKED, "");
	PLAY(s, {0, "100#00", 0, 2 * MIN, 100}, {0, "200#00", 10, 30 * MIN, 100},
	     {0, "300#00", 20, 2 * MIN, 100});
}

static const struct nod_test_proposal *proposal(const struct nod_findings *f, const char *what)
{
	for (size_t i = 0; i < f->proposal_count; i++)
		if (strstr(f->proposals[i].what, what))
			return &f->proposals[i];
	return NULL;
}

static void test_the_fuse_of_the_likeliest_comes_first(void **state)
{
	(void)state;
	struct scene s;
	leave_seat_alone(&s, plain);
	const struct nod_test_proposal *p = found_at(&s, 30 * MIN)->proposals;
	assert_string_equal(p->what, "fuse F2 (15 A)");
	assert_string_equal(p->caution, "it also feeds seat heater");
	assert_true(p->hit > 0.9);
	assert_true(p->minutes >= 10);
	assert_int_equal(s.found->proposal_count, 2); /* of the others nothing is worth it */
	assert_non_null(proposal(s.found, "under the seat"));
	scene_end(&s);
}

/* The others, on one fuse, fell silent so often while the seat unit talked on. */
static void pause_beside_seat(struct scene *s, int pauses)
{
	static const char shared[] = NETWORK("10 min") //
		"modules:\n"
		"  roof unit: { ids: [100], fuses: [F1] }\n"
		"  seat unit: { ids: [200], fuses: [F2] }\n"
		"  door unit: { ids: [300], fuses: [F1] }\n"
		"fuses: { F1: { rating: 10 A }, F2: { rating: 15 A } }\n";

	scene_begin(s, shared);
	mark_at(s, 0, NOD_MARK_STARTED, "");
	mark_at(s, 0, NOD_MARK_LOCKED, "");
	for (int k = 0; k <= pauses; k++) {
		int64_t from = k ? (13 + k) * MIN : 0, to = k < pauses ? (14 + k) * MIN : 30 * MIN;
		PLAY(s, {0, "200#00", from + 50, to, 100},
		     {0, "100#00", k ? from + 900 : 0, to, 100},
		     {0, "300#00", k ? from + 920 : 20, to, 100});
	}
}

/* All of them together are not worth it, though one in thirty times it is one of them. */
static void test_beside_one_who_is_named_surely_others_are_left_alone(void **state)
{
	(void)state;
	struct scene s;
	pause_beside_seat(&s, 1);
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_true(f->suspects[0].probability < 0.9);
	assert_non_null(proposal(f, "F2"));
	assert_non_null(proposal(f, "F1"));
	scene_end(&s);
	pause_beside_seat(&s, 2);
	f = found_at(&s, 30 * MIN);
	assert_true(f->suspects[0].probability >= 0.9);
	assert_true(probability(f, "roof unit") + probability(f, "door unit") > 0.02);
	assert_non_null(proposal(f, "F2"));
	assert_null(proposal(f, "F1"));
	scene_end(&s);
}

static void test_nothing_is_proposed_for_a_car_that_sleeps(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, plain);
	mark_at(&s, 0, NOD_MARK_STARTED, "");
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, 2 * MIN, 100});
	assert_int_equal(found_at(&s, 30 * MIN)->proposal_count, 0);
	scene_end(&s);
}

static void test_airbags_are_never_proposed(void **state)
{
	(void)state;
	static const char vehicle[] = NETWORK(
		"10 min") "modules:\n"
			  "  airbag unit: { ids: [100], fuses: [F1], cautions: [airbag] }\n"
			  "  seat unit: { ids: [200], fuses: [F1] }\n"
			  "  inverter: { ids: [300], fuses: [F3] }\n"
			  "fuses:\n"
			  "  F1: { rating: 10 A }\n"
			  "  F3: { rating: 5 A, cautions: [high-voltage] }\n";
	struct scene s;
	talk_on(&s, vehicle);
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_null(proposal(f, "fuse F1")); /* also feeds the airbag unit */
	assert_null(proposal(f, "fuse F3"));
	assert_null(proposal(f, "airbag unit"));
	assert_non_null(proposal(f, "the plug of seat unit"));
	scene_end(&s);
}

static void test_what_loses_its_memory_costs_more(void **state)
{
	(void)state;
	static const char vehicle[] = NETWORK(
		"10 min") "modules:\n"
			  "  roof unit: { ids: [100], fuses: [F1] }\n"
			  "  seat unit: { ids: [200], fuses: [F2] }\n"
			  "fuses:\n"
			  "  F1: { rating: 10 A, cautions: [memory] }\n"
			  "  F2: { rating: 15 A }\n";
	struct scene s;
	talk_on(&s, vehicle);
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_string_equal(f->proposals[0].what, "fuse F2 (15 A)");
	assert_true(proposal(f, "fuse F1")->minutes > proposal(f, "fuse F2")->minutes);
	assert_string_equal(proposal(f, "fuse F1")->caution, "memory");
	scene_end(&s);
}

static void test_what_changed_nothing_is_not_proposed_again(void **state)
{
	(void)state;
	struct scene s;
	talk_on(&s, plain);
	mark_at(&s, 30 * MIN, NOD_MARK_ISOLATED, "F2");
	PLAY(&s, {0, "100#00", 30 * MIN, 42 * MIN, 100},
	     {0, "300#00", 30 * MIN + 20, 42 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 42 * MIN - 100);
	assert_int_equal(f->isolations[0].result, NOD_ISOLATION_UNCHANGED);
	assert_null(proposal(f, "F2"));
	assert_null(proposal(f, "seat unit"));
	assert_non_null(proposal(f, "F1"));
	assert_non_null(proposal(f, "F3"));
	scene_end(&s);
}

/* Its frames went on: it hangs on something else as well, so its plug is left. */
static void test_a_fuse_that_left_it_on_gives_way_to_the_plug(void **state)
{
	(void)state;
	struct scene s;
	leave_seat_alone(&s, plain);
	mark_at(&s, 30 * MIN, NOD_MARK_ISOLATED, "F2");
	PLAY(&s, {0, "200#00", 30 * MIN, 42 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 42 * MIN - 100);
	assert_int_equal(f->isolations[0].result, NOD_ISOLATION_NOT_OFF);
	assert_null(proposal(f, "F2"));
	assert_string_equal(f->proposals[0].what, "the plug of seat unit (under the seat)");
	scene_end(&s);
}

/* Of two fuses one alone may not take it off. */
static void test_a_module_on_two_fuses_is_rather_unplugged(void **state)
{
	(void)state;
	static const char vehicle[] = NETWORK(
		"10 min") "modules:\n"
			  "  seat unit: { ids: [200], fuses: [F1, F2] }\n"
			  "  roof unit: { ids: [100], fuses: [F3] }\n"
			  "fuses:\n"
			  "  F1: { rating: 10 A }\n"
			  "  F2: { rating: 15 A }\n"
			  "  F3: { rating: 15 A }\n";
	struct scene s;
	leave_seat_alone(&s, vehicle);
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_string_equal(f->proposals[0].what, "the plug of seat unit");
	assert_true(proposal(f, "F1")->hit < 0.6);
	scene_end(&s);
}

/* What is waited as proposed, is long enough to be judged. */
static void test_the_wait_is_long_enough_for_a_slow_car(void **state)
{
	(void)state;
	static const char slow[] = NETWORK("70 min") MODULES;
	struct scene s;
	scene_begin(&s, slow);
	mark_at(&s, 0, NOD_MARK_STARTED, "");
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, 75 * MIN, 100}, {0, "200#00", 10, 75 * MIN, 100});
	const struct nod_test_proposal *p = found_at(&s, 75 * MIN)->proposals;
	int64_t until = 75 * MIN + (int64_t)(p->minutes * MIN);
	const char *left = p->fuse == 0 ? "200#00" : "100#00";
	mark_at(&s, 75 * MIN, NOD_MARK_ISOLATED, p->fuse == 0 ? "F1" : "F2");
	PLAY(&s, {0, left, 75 * MIN, until, 100});
	assert_int_equal(found_at(&s, until)->isolations[0].result, NOD_ISOLATION_UNCHANGED);
	scene_end(&s);
}

static void test_a_waker_is_waited_for_over_several_intervals(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, plain);
	mark_at(&s, 0, NOD_MARK_STARTED, "");
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	PLAY(&s, {0, "100#00", 0, MIN, 100}, {0, "200#00", 10, MIN, 100});
	for (int64_t t = 12 * MIN; t < 60 * MIN; t += 8 * MIN)
		PLAY(&s, {0, "300#00", t, t + 20000, 100}, {0, "100#00", t + 60, t + 20000, 100});
	const struct nod_findings *f = found_at(&s, 60 * MIN);
	assert_string_equal(f->proposals[0].what, "fuse F3 (5 A)");
	/* by a clock: twice 8, as for isolations and comparisons */
	assert_true(f->proposals[0].minutes >= 16 && f->proposals[0].minutes < 24);
	scene_end(&s);
}

/* The refit starts the settle clock anew; the search is not over for that. */
static void test_the_search_goes_on_after_a_refit(void **state)
{
	(void)state;
	struct scene s;
	talk_on(&s, plain);
	mark_at(&s, 30 * MIN, NOD_MARK_ISOLATED, "F1");
	PLAY(&s, {0, "200#00", 30 * MIN, 42 * MIN, 100},
	     {0, "300#00", 30 * MIN + 20, 42 * MIN, 100});
	mark_at(&s, 42 * MIN, NOD_MARK_REFITTED, "F1");
	PLAY(&s, {0, "100#00", 42 * MIN, 44 * MIN, 100}, {0, "200#00", 42 * MIN, 44 * MIN, 100},
	     {0, "300#00", 42 * MIN + 20, 44 * MIN, 100});
	const struct nod_findings *f = found_at(&s, 44 * MIN - 100);
	assert_non_null(proposal(f, "F2"));
	assert_null(proposal(f, "F1"));
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_the_fuse_of_the_likeliest_comes_first),
		cmocka_unit_test(test_beside_one_who_is_named_surely_others_are_left_alone),
		cmocka_unit_test(test_nothing_is_proposed_for_a_car_that_sleeps),
		cmocka_unit_test(test_airbags_are_never_proposed),
		cmocka_unit_test(test_what_loses_its_memory_costs_more),
		cmocka_unit_test(test_what_changed_nothing_is_not_proposed_again),
		cmocka_unit_test(test_a_fuse_that_left_it_on_gives_way_to_the_plug),
		cmocka_unit_test(test_a_module_on_two_fuses_is_rather_unplugged),
		cmocka_unit_test(test_the_wait_is_long_enough_for_a_slow_car),
		cmocka_unit_test(test_a_waker_is_waited_for_over_several_intervals),
		cmocka_unit_test(test_the_search_goes_on_after_a_refit),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
