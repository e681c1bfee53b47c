/* SPDX-License-Identifier: MIT */
/* What truth.txt says must be what the simulated car did. */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "generator.h"
#include "sim/truth.h"

/* An emulated processor takes minutes for what this one does in seconds: there one car of each
 * situation has to do. */
static uint64_t seeds(uint64_t usual)
{
	return getenv("NODOFF_EMULATED") ? 1 : usual;
}

static const struct nod_truth *run(struct nod_generator *generator)
{
	const struct nod_event *event;

	assert_non_null(generator);
	while (nod_generator_next(generator, &event))
		;
	assert_false(nod_generator_failed(generator));
	return nod_generator_truth(generator);
}

static bool is_one_of(const char *name, const char *const *names)
{
	for (; *names; names++)
		if (!strcmp(name, *names))
			return true;
	return false;
}

static void expect(bool good, const struct nod_truth *truth, const char *network, const char *what)
{
	if (!good)
		fail_msg("%s, seed %d, network %s: %s", truth->situation, (int)truth->seed, network,
			 what);
}

static void check_sleeps(const struct nod_truth *truth, const struct nod_truth_network *net)
{
	/* After an opened door the time counts anew; a recording may be too short to show it. */
	bool late = is_one_of(truth->situation, (const char *const[]){"door-half-open", "too-short",
								      "clock-step", NULL});
	bool disturbed = is_one_of(
		truth->situation,
		(const char *const[]){"door-half-open", "user-disturbance", NULL});

	if (!is_one_of(truth->situation,
		       (const char *const[]){"too-short", "in-use", "bench", "never-parked", NULL}))
		expect(nod_time_is_set(net->slept_at), truth, net->name, "never slept");
	if (!late)
		expect(net->slept_at.ns <= truth->deadline.ns, truth, net->name, "slept too late");
	if (!disturbed)
		expect(net->wakes == 0, truth, net->name, "woke again");
}

static void check_kept(const struct nod_truth *truth, const struct nod_truth_network *net)
{
	bool sleeps_later = is_one_of(truth->situation,
				      (const char *const[]){"isolation-right", "isolation-search",
							    "isolation-too-brief",
							    "staggered-shutdown", NULL});

	/* A clock step moves times. */
	if (!strcmp(truth->situation, "clock-step"))
		expect(net->awake_at_end, truth, net->name, "not awake at the end");
	else if (!sleeps_later)
		expect(!nod_time_is_set(net->slept_at) && net->awake_at_end, truth, net->name,
		       "slept");
	else if (nod_time_is_set(net->slept_at))
		expect(net->slept_at.ns > truth->deadline.ns, truth, net->name, "slept in time");
}

static void check_woken(const struct nod_truth *truth, const struct nod_truth_network *net)
{
	expect(nod_time_is_set(net->slept_at) && net->slept_at.ns <= truth->deadline.ns, truth,
	       net->name, "never slept in time");
	expect(net->wakes > 0, truth, net->name, "never woke");
}

static void check(const struct nod_truth *truth)
{
	expect(*truth->why, truth, "", "no reason given");
	for (int i = 0; i < truth->network_count; i++) {
		const struct nod_truth_network *net = &truth->networks[i];
		bool concerned = !strcmp(net->name, truth->network);
		if (!strcmp(truth->verdict, "sleeps in time") || !strcmp(truth->role, "drain"))
			check_sleeps(truth, net);
		else if (concerned && !strcmp(truth->verdict, "kept awake"))
			check_kept(truth, net);
		else if (concerned)
			check_woken(truth, net);
	}
	for (int i = 0; i < truth->culprit_count; i++)
		expect(truth->id_count[i] > 0, truth, truth->culprits[i], "sends nothing");
}

static void test_truth_agrees_with_what_happened(void **state)
{
	(void)state;
	for (size_t i = 0; nod_generator_situation(i); i++)
		for (uint64_t seed = 1; seed <= seeds(5); seed++) {
			struct nod_generator *generator = nod_generator_open(
				nod_generator_situation(i), seed, NULL, NULL);
			check(run(generator));
			nod_generator_close(generator);
		}
}

static void test_other_worlds_keep_the_truth_too(void **state)
{
	(void)state;
	for (unsigned world = 2; nod_generator_world(world); world++)
		for (size_t i = 0; nod_generator_situation(i); i++)
			for (uint64_t seed = 1; seed <= seeds(2); seed++) {
				const struct nod_generator_options how = {
					.frames = NOD_GENERATOR_FRAMES, .world = world};
				struct nod_generator *generator = nod_generator_open(
					nod_generator_situation(i), seed, &how, NULL);
				check(run(generator));
				nod_generator_close(generator);
			}
}

static void test_small_sessions_keep_the_truth_too(void **state)
{
	(void)state;
	static const struct nod_generator_options small = {.small = true,
							   .frames = NOD_GENERATOR_SMALL_FRAMES};
	for (size_t i = 0; nod_generator_situation(i); i++)
		for (uint64_t seed = 1; seed <= seeds(10); seed++) {
			struct nod_generator *generator = nod_generator_open(
				nod_generator_situation(i), seed, &small, NULL);
			check(run(generator));
			nod_generator_close(generator);
		}
}

static void test_good_recording_is_of_the_same_car_and_sleeps(void **state)
{
	(void)state;
	static const struct nod_generator_options good = {.frames = NOD_GENERATOR_FRAMES,
							  .good = true};
	struct nod_generator *bad = nod_generator_open("holder-osek", 11, NULL, NULL);
	struct nod_generator *well = nod_generator_open("holder-osek", 11, &good, NULL);
	const struct nod_truth *truth = run(well);

	assert_string_equal(nod_generator_map(bad), nod_generator_map(well));
	assert_string_equal(truth->verdict, "sleeps in time");
	assert_int_equal(truth->culprit_count, 0);
	for (int i = 0; i < truth->network_count; i++)
		check_sleeps(truth, &truth->networks[i]);
	nod_generator_close(bad);
	nod_generator_close(well);
}

static void test_later_session_is_of_the_same_car_and_fault(void **state)
{
	(void)state;
	static const struct nod_generator_options second = {.frames = NOD_GENERATOR_FRAMES,
							    .session = 1};
	for (size_t i = 0; nod_generator_situation(i); i++) {
		const char *name = nod_generator_situation(i);
		struct nod_generator *a = nod_generator_open(name, 9, NULL, NULL);
		struct nod_generator *b = nod_generator_open(name, 9, &second, NULL);
		const struct nod_truth *first = run(a), *later = run(b);
		assert_string_equal(nod_generator_map(a), nod_generator_map(b));
		assert_true(later->start.ns > first->end.ns + 86400 * NOD_NS_PER_S);
		assert_int_equal(first->culprit_count > 0 && later->culprit_count > 0 &&
					 strcmp(first->culprits[0], later->culprits[0]) != 0,
				 0);
		check(later);
		nod_generator_close(a);
		nod_generator_close(b);
	}
}

static void test_without_interventions_nobody_isolates(void **state)
{
	(void)state;
	static const struct nod_generator_options alone = {.frames = NOD_GENERATOR_FRAMES,
							   .no_interventions = true};
	struct nod_generator *generator = nod_generator_open("isolation-right", 9, &alone, NULL);
	const struct nod_event *event;

	assert_non_null(generator);
	while (nod_generator_next(generator, &event))
		if (event->kind == NOD_EVENT_MARK)
			assert_int_not_equal(event->mark.kind, NOD_MARK_ISOLATED);
	const struct nod_truth *truth = nod_generator_truth(generator);
	assert_string_equal(truth->isolated, "");
	assert_null(strstr(truth->why, "isolating"));
	nod_generator_close(generator);
}

/* Whoever drives the simulation unplugs the culprit after the deadline. */
static void test_unplugging_the_culprit_lets_the_car_sleep(void **state)
{
	(void)state;
	struct nod_generator *generator = nod_generator_open("lone-talker", 7, NULL, NULL);
	struct nod_truth before = *nod_generator_truth(generator);
	const struct nod_event *event;
	unsigned isolated = 0;
	bool done = false;

	while (nod_generator_next(generator, &event)) {
		isolated += event->kind == NOD_EVENT_MARK && event->mark.kind == NOD_MARK_ISOLATED;
		if (done || event->kind != NOD_EVENT_FRAME || event->time.ns < before.deadline.ns)
			continue;
		assert_int_equal(nod_generator_act(generator, NOD_MARK_ISOLATED, before.culprits[0],
						   nod_seconds(1)),
				 0);
		nod_generator_extend(generator, nod_seconds(600));
		done = true;
	}
	assert_int_equal(isolated, 1);
	const struct nod_truth *truth = nod_generator_truth(generator);
	assert_true(truth->end.ns == before.end.ns + 600 * NOD_NS_PER_S);
	for (int i = 0; i < truth->network_count; i++)
		if (!strcmp(truth->networks[i].name, truth->network)) {
			assert_true(truth->networks[i].slept_at.ns > truth->deadline.ns);
			assert_false(truth->networks[i].awake_at_end);
		}
	nod_generator_close(generator);
}

static void test_what_cannot_be_driven_is_refused(void **state)
{
	(void)state;
	struct nod_generator *generator = nod_generator_open("healthy", 7, NULL, NULL);
	assert_int_equal(nod_generator_act(generator, NOD_MARK_ISOLATED, "F999", nod_seconds(0)),
			 -EINVAL);
	assert_int_equal(nod_generator_act(generator, NOD_MARK_LOCKED, "", nod_seconds(0)),
			 -EINVAL);
	nod_generator_close(generator);
}

static void test_truth_as_text(void **state)
{
	(void)state;
	struct nod_generator *generator = nod_generator_open("repeated-waker", 2, NULL, NULL);
	const struct nod_truth *truth = run(generator);
	char text[4096] = "", line[128];
	FILE *out = fmemopen(text, sizeof(text), "w");

	assert_non_null(out);
	assert_int_equal(sim_truth_write(truth, out), 0);
	fclose(out);
	assert_non_null(strstr(text, "\nverdict: woken again\n"));
	assert_non_null(strstr(text, "\nrole: waker\n"));
	snprintf(line, sizeof(line), "\nculprit: %s\n", truth->culprits[0]);
	assert_non_null(strstr(text, line));
	snprintf(line, sizeof(line), "\nfirst-in-wake-ups: %u of %u\n", truth->first_of,
		 truth->wakes_heard);
	assert_non_null(strstr(text, line));
	nod_generator_close(generator);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_truth_agrees_with_what_happened),
		cmocka_unit_test(test_other_worlds_keep_the_truth_too),
		cmocka_unit_test(test_small_sessions_keep_the_truth_too),
		cmocka_unit_test(test_good_recording_is_of_the_same_car_and_sleeps),
		cmocka_unit_test(test_later_session_is_of_the_same_car_and_fault),
		cmocka_unit_test(test_without_interventions_nobody_isolates),
		cmocka_unit_test(test_unplugging_the_culprit_lets_the_car_sleep),
		cmocka_unit_test(test_what_cannot_be_driven_is_refused),
		cmocka_unit_test(test_truth_as_text),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
