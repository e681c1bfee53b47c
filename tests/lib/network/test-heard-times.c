/* SPDX-License-Identifier: MIT */
/* When each ID was heard. */
#include "scene.h"

static void take(struct nod_heard *heard, int64_t ms, uint32_t id)
{
	struct nod_event e = {.kind = NOD_EVENT_FRAME, .time = {ms * NOD_NS_PER_MS}};

	e.frame.time = e.time;
	e.frame.id = id;
	assert_int_equal(nod_heard_take(heard, &e, nod_seconds(1)), 0);
}

static void silences_part_stretches(void **state)
{
	struct nod_heard *heard = nod_heard_new();

	(void)state;
	for (int i = 0; i < 10; i++)
		take(heard, i * 100, 0x123);
	for (int i = 0; i < 5; i++)
		take(heard, 60000 + i * 100, 0x123);
	assert_int_equal(nod_heard_count(heard), 1);
	const struct nod_heard_id *id = nod_heard_id(heard, 0);
	assert_int_equal(id->count, 2);
	assert_int_equal(id->stretches[0].from.ns, NOD_NS_PER_S); /* the shift is added */
	assert_int_equal(id->stretches[0].to.ns, 1900 * NOD_NS_PER_MS);
	assert_int_equal(id->stretches[0].frames, 10);
	assert_int_equal(id->stretches[1].from.ns, 61 * NOD_NS_PER_S);
	assert_int_equal(id->stretches[1].frames, 5);
	assert_int_equal(nod_heard_interval(id).ns, 100 * NOD_NS_PER_MS);
	nod_heard_free(heard);
}

static void a_slow_message_is_not_chopped(void **state)
{
	struct nod_heard *heard = nod_heard_new();

	(void)state;
	for (int i = 0; i < 20; i++)
		take(heard, i * 4000 + (i % 3) * 900, 0x7E);
	assert_int_equal(nod_heard_id(heard, 0)->count, 1);
	nod_heard_free(heard);
}

static void one_frame_has_no_interval(void **state)
{
	struct nod_heard *heard = nod_heard_new();

	(void)state;
	take(heard, 0, 1);
	take(heard, 0, 2);
	take(heard, 600000, 2);
	assert_int_equal(nod_heard_count(heard), 2);
	assert_int_equal(nod_heard_interval(nod_heard_id(heard, 0)).ns, NOD_DURATION_NONE.ns);
	assert_int_equal(nod_heard_id(heard, 1)->count, 2);
	nod_heard_free(heard);
}

static void room_is_bounded_and_the_longest_silences_stay(void **state)
{
	struct nod_heard *heard = nod_heard_new();
	int64_t ms = 0;

	(void)state;
	for (int i = 0; i < 3 * NOD_HEARD_STRETCHES; i++)
		take(heard, ms += i == 1000 ? 7200000 : 20000, 0x55);
	const struct nod_heard_id *id = nod_heard_id(heard, 0);
	uint64_t frames = 0;
	bool long_one = false;
	assert_true(id->count <= NOD_HEARD_STRETCHES);
	assert_true(id->silence.ns > 20 * NOD_NS_PER_S);
	for (uint32_t i = 0; i < id->count; i++) {
		frames += id->stretches[i].frames;
		long_one |= i &&
			    nod_time_since(id->stretches[i].from, id->stretches[i - 1].to).ns ==
				    7200 * NOD_NS_PER_S;
	}
	assert_int_equal(frames, 3 * NOD_HEARD_STRETCHES);
	assert_true(long_one);
	nod_heard_free(heard);
}

static void ids_beyond_the_room_are_left_out(void **state)
{
	struct nod_heard *heard = nod_heard_new();

	(void)state;
	for (uint32_t i = 0; i < NOD_HEARD_IDS + 3; i++)
		take(heard, i, NOD_ID_EXTENDED | i);
	assert_int_equal(nod_heard_count(heard), NOD_HEARD_IDS);
	nod_heard_free(heard);
}

/* Stretches for which memory is held. */
static size_t kept(const struct nod_heard *heard)
{
	size_t sum = 0;

	for (size_t i = 0; i < nod_heard_count(heard); i++)
		sum += nod_heard_id(heard, i)->room;
	return sum;
}

/* As many IDs as are kept, each parted as often as it may be. */
static void all_of_them_together_have_a_budget(void **state)
{
	struct nod_heard *heard = nod_heard_new();
	enum { TIMES = 100 };

	(void)state;
	for (int64_t i = 0; i < TIMES; i++)
		for (uint32_t id = 0; id < NOD_HEARD_IDS; id++) {
			take(heard, i * 60000 + id, id);
			if (id % 5000 == 0)
				assert_true(kept(heard) <= NOD_HEARD_STRETCHES_ALL);
		}
	for (uint32_t id = 0; id < NOD_HEARD_IDS; id++) {
		const struct nod_heard_id *h = nod_heard_id(heard, id);
		uint64_t frames = 0;
		for (uint32_t k = 0; k < h->count; k++)
			frames += h->stretches[k].frames;
		assert_int_equal(frames, TIMES);
		assert_true(h->count && h->silence.ns > 0);
	}
	nod_heard_free(heard);
}

/* Those with few stretches keep theirs when others have too many. */
static void who_has_few_keeps_them(void **state)
{
	struct nod_heard *heard = nod_heard_new();

	(void)state;
	for (int64_t i = 0; i < 3000; i++) {
		for (uint32_t id = 1; id < 400; id++)
			take(heard, i * 60000 + id, id);
		if (i % 300 == 0)
			take(heard, i * 60000 + 500, 500);
	}
	assert_true(kept(heard) <= NOD_HEARD_STRETCHES_ALL);
	assert_int_equal(nod_heard_id(heard, 399)->id, 500);
	assert_int_equal(nod_heard_id(heard, 399)->count, 10);
	assert_int_equal(nod_heard_id(heard, 399)->silence.ns, 0);
	nod_heard_free(heard);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(all_of_them_together_have_a_budget),
		cmocka_unit_test(who_has_few_keeps_them),
		cmocka_unit_test(silences_part_stretches),
		cmocka_unit_test(a_slow_message_is_not_chopped),
		cmocka_unit_test(one_frame_has_no_interval),
		cmocka_unit_test(room_is_bounded_and_the_longest_silences_stay),
		cmocka_unit_test(ids_beyond_the_room_are_left_out),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
