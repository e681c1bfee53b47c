/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "generator.h"

/* An emulated processor takes minutes for what this one does in seconds: there one car of each
 * situation has to do. */
static uint64_t seeds(uint64_t usual)
{
	return getenv("NODOFF_EMULATED") ? 1 : usual;
}

static struct nod_generator *opened(const char *situation, uint64_t seed)
{
	struct nod_generator *generator = nod_generator_open(situation, seed, NULL, NULL);

	assert_non_null(generator);
	return generator;
}

/* FNV-1a over what a frame or sample says. */
static uint64_t mix(uint64_t hash, const void *bytes, size_t size)
{
	for (size_t i = 0; i < size; i++)
		hash = (hash ^ ((const uint8_t *)bytes)[i]) * UINT64_C(0x100000001B3);
	return hash;
}

static uint64_t fingerprint(const char *situation, uint64_t seed)
{
	struct nod_generator *generator = opened(situation, seed);
	const char *map = nod_generator_map(generator);
	uint64_t hash = mix(UINT64_C(0xCBF29CE484222325), map, strlen(map));
	const struct nod_event *event;

	while (nod_generator_next(generator, &event)) {
		hash = mix(hash, &event->kind, sizeof(event->kind));
		hash = mix(hash, &event->time.ns, sizeof(event->time.ns));
		if (event->kind == NOD_EVENT_FRAME) {
			hash = mix(hash, &event->frame.id, sizeof(event->frame.id));
			hash = mix(hash, event->frame.data, event->frame.length);
		} else if (event->kind == NOD_EVENT_CURRENT) {
			hash = mix(hash, &event->current.microamps, sizeof(int64_t));
		} else if (event->kind == NOD_EVENT_MARK) {
			hash = mix(hash, event->mark.subject, strlen(event->mark.subject));
		}
	}
	assert_false(nod_generator_failed(generator));
	nod_generator_close(generator);
	return hash;
}

static void test_same_seed_gives_the_same_session(void **state)
{
	(void)state;
	for (size_t i = 0; nod_generator_situation(i); i++) {
		const char *name = nod_generator_situation(i);
		uint64_t first = fingerprint(name, 3);
		assert_true(first == fingerprint(name, 3));
		assert_true(first != fingerprint(name, 4));
	}
}

static bool steps_back(const char *situation)
{
	return !strcmp(situation, "clock-step") || !strcmp(situation, "merged-recorders");
}

static void check_order(const char *situation, uint64_t seed)
{
	struct nod_generator *generator = opened(situation, seed);
	const struct nod_event *event;
	nod_time before = NOD_TIME_NONE;

	while (nod_generator_next(generator, &event)) {
		if (event->kind == NOD_EVENT_HEADER)
			continue;
		if (event->time.ns < before.ns)
			fail_msg("%s, seed %d: time goes back", situation, (int)seed);
		before = event->time;
	}
	assert_true(before.ns <= nod_generator_end(generator).ns + 90 * NOD_NS_PER_S);
	nod_generator_close(generator);
}

static void test_events_come_in_time_order(void **state)
{
	(void)state;
	for (size_t i = 0; nod_generator_situation(i); i++)
		for (uint64_t seed = 1; seed <= seeds(4) && !steps_back(nod_generator_situation(i));
		     seed++)
			check_order(nod_generator_situation(i), seed);
}

static void test_unknown_situations_are_refused(void **state)
{
	(void)state;
	struct nod_error err;
	errno = 0;
	assert_null(nod_generator_open("no-such-thing", 1, NULL, &err));
	assert_int_equal(errno, EINVAL);
	assert_non_null(strstr(err.text, "no-such-thing"));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_same_seed_gives_the_same_session),
		cmocka_unit_test(test_events_come_in_time_order),
		cmocka_unit_test(test_unknown_situations_are_refused),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
