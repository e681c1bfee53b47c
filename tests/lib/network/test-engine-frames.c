/* SPDX-License-Identifier: MIT */
/* Frames by the hundred against each of them looked at with all care: streams of every kind of
 * frame and time give the same answer, byte for byte. */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "answer-json.h"
#include "engine-internal.h"

#define FRAMES 30000

static const char map[] = "networks:\n"
			  "  body: { interfaces: [can0], sleeps within: 20 s, quiet time: 2 s,\n"
			  "          management: { scheme: autosar, ids: 500-50F } }\n"
			  "  chassis: { interfaces: [can1, can2], sleeps within: 30 s,\n"
			  "             management: { scheme: osek, ids: 400-41F } }\n"
			  "modules:\n"
			  "  door: { networks: [body], ids: [100-107], node: 1 }\n"
			  "  seat: { networks: [body], ids: [108-10F], node: 2 }\n";

static const struct nod_interfaces interfaces = {.count = 4,
						 .names = {"can0", "can1", "can2", "can3"}};

static uint64_t next_random(uint64_t *random)
{
	/* Knuth, MMIX */
	*random = *random * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
	return *random >> 33;
}

static uint32_t invent_id(uint64_t *random)
{
	static const uint32_t bases[] = {0x100,
					 0x500,
					 0x400,
					 0x7DF,
					 0x7E8,
					 0x200,
					 NOD_ID_EXTENDED | 0x18FEF100,
					 NOD_ID_EXTENDED | 0x18DA10F1};
	uint32_t id = bases[next_random(random) % 8] + (uint32_t)next_random(random) % 16;

	switch (next_random(random) % 200) {
	case 0:
		return id | NOD_ID_REMOTE;
	case 1:
		return NOD_ID_ERROR | 0x8;
	default:
		return id;
	}
}

/* How the times go on: a busy network, with silences, with steps back, impossible. */
static int64_t invent_step(uint64_t *random, unsigned unruly)
{
	uint64_t chance = next_random(random) % 10000;

	if (chance < 10)
		return (int64_t)(next_random(random) % 8000) * NOD_NS_PER_MS;
	if (chance < 20 * unruly)
		return -(int64_t)(next_random(random) % 50) * NOD_NS_PER_MS;
	if (chance < 21 * unruly)
		return -(int64_t)(next_random(random) % 9000) * NOD_NS_PER_MS;
	return (int64_t)(next_random(random) % 2000) * NOD_NS_PER_US;
}

static void invent(struct nod_frame *frames, uint64_t seed, unsigned unruly)
{
	static const uint8_t lengths[] = {8, 8, 8, 8, 8, 8, 8, 6, 2, 0};
	uint64_t random = seed;
	int64_t now = INT64_C(1700000000) * NOD_NS_PER_S;

	for (unsigned i = 0; i < FRAMES; i++) {
		struct nod_frame *f = &frames[i];
		memset(f, 0, sizeof(*f));
		now += invent_step(&random, unruly);
		f->time.ns = unruly && i % 9999 == 9998 ? INT64_MAX - i : now;
		f->id = invent_id(&random);
		f->interface = (uint8_t)(next_random(&random) % 4);
		f->length = lengths[f->id % 10];
		if (next_random(&random) % 100 < unruly)
			f->length = (uint8_t)(next_random(&random) % 9);
		if (next_random(&random) % 500 < unruly)
			f->flags = NOD_FRAME_FD;
		if (f->length == 8 && next_random(&random) % 500 < unruly)
			f->raw_dlc = 12;
		for (unsigned k = 0; k < f->length; k++)
			f->data[k] = (uint8_t)(k == 1 ? i : k == 5 ? next_random(&random) : f->id);
	}
}

static void give_mark(struct nod_engine *engine, nod_time time, enum nod_mark_kind kind,
		      const char *subject)
{
	struct nod_event event = {.kind = NOD_EVENT_MARK, .time = time};

	event.mark = (struct nod_mark){.time = time, .kind = kind, .subject = subject};
	nod_engine_take(engine, &event);
}

static void give(struct nod_engine *engine, const struct nod_frame *frames, size_t count,
		 bool with_care)
{
	if (!with_care)
		assert_int_equal(nod_engine_take_frames(engine, frames, count), 0);
	for (size_t i = 0; with_care && i < count; i++)
		assert_int_not_equal(nod_engine_take_any(engine, &frames[i]), -ENOMEM);
}

/* Other events come between, some of them in the middle of a busy time. */
static char *judge(const struct nod_frame *frames, bool with_care, bool mapped)
{
	struct nod_error err = {""};
	struct nod_vehicle *vehicle = mapped ? nod_vehicle_parse(map, sizeof(map) - 1, "map", &err)
					     : NULL;
	struct nod_engine *engine = nod_engine_new(vehicle, &interfaces);
	struct nod_event loss = {.kind = NOD_EVENT_LOSS, .loss = {NOD_ALL_INTERFACES, 3}};
	static const size_t ends[] = {3000, 9001, 9002, 15000, 22000, FRAMES};
	size_t at = 0;

	assert_non_null(engine);
	for (size_t part = 0; part < sizeof(ends) / sizeof(ends[0]); part++) {
		give(engine, frames + at, ends[part] - at, with_care);
		at = ends[part];
		nod_time time = frames[at - 1].time;
		loss.time = time;
		if (part == 0)
			give_mark(engine, time, NOD_MARK_LOCKED, "");
		if (part == 1)
			nod_engine_take(engine, &loss);
		if (part == 2)
			give_mark(engine, time, NOD_MARK_UNLOCKED, "");
		if (part == 3)
			give_mark(engine, time, NOD_MARK_LOCKED, "");
		if (part == 4)
			give_mark(engine, time, NOD_MARK_TOUCHED, "handle");
	}
	struct nod_findings *findings = nod_engine_findings(engine);
	assert_non_null(findings);
	json_t *json = nod_answer_json(findings);
	assert_non_null(json);
	char *text = json_dumps(json, JSON_INDENT(1) | JSON_SORT_KEYS);
	json_decref(json);
	nod_findings_free(findings);
	nod_engine_free(engine);
	nod_vehicle_free(vehicle);
	return text;
}

static void compare(uint64_t seed, unsigned unruly, bool mapped)
{
	struct nod_frame *frames = calloc(FRAMES, sizeof(*frames));

	assert_non_null(frames);
	invent(frames, seed, unruly);
	char *with_care = judge(frames, true, mapped), *quickly = judge(frames, false, mapped);
	assert_string_equal(quickly, with_care);
	free(with_care);
	free(quickly);
	free(frames);
}

static void test_a_calm_stream_is_judged_the_same(void **state)
{
	(void)state;
	for (uint64_t seed = 1; seed <= 3; seed++) {
		compare(seed, 0, false);
		compare(seed, 0, true);
	}
}

static void test_an_unruly_stream_is_judged_the_same(void **state)
{
	(void)state;
	for (uint64_t seed = 11; seed <= 13; seed++) {
		compare(seed, 1, false);
		compare(seed, 1, true);
		compare(seed, 3, true);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_a_calm_stream_is_judged_the_same),
		cmocka_unit_test(test_an_unruly_stream_is_judged_the_same),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
