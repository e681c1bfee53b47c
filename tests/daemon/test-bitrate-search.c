/* SPDX-License-Identifier: MIT */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include "bitrate-search.h"

static enum nod_bitrate_step judge(uint64_t frames, uint64_t errors, bool over)
{
	return nod_bitrate_judge((struct nod_bitrate_heard){frames, errors}, over);
}

static void whole_frames_are_the_right_rate(void **state)
{
	(void)state;
	assert_int_equal(judge(0, 0, false), NOD_BITRATE_LISTEN);
	assert_int_equal(judge(1, 0, false), NOD_BITRATE_LISTEN);
	assert_int_equal(judge(1, 0, true), NOD_BITRATE_FOUND);
	assert_int_equal(judge(3, 0, false), NOD_BITRATE_FOUND);
	assert_int_equal(judge(3, 3, false), NOD_BITRATE_FOUND);
}

static void error_reports_alone_are_a_wrong_one(void **state)
{
	(void)state;
	assert_int_equal(judge(0, 19, false), NOD_BITRATE_LISTEN);
	assert_int_equal(judge(0, 20, false), NOD_BITRATE_NEXT);
	assert_int_equal(judge(0, 1, true), NOD_BITRATE_NEXT);
	assert_int_equal(judge(0, 0, true), NOD_BITRATE_NEXT); /* silent: not said, so the next */
	/* a frame that is whole by accident among many that are not */
	assert_int_equal(judge(1, 400, false), NOD_BITRATE_LISTEN);
	assert_int_equal(judge(1, 400, true), NOD_BITRATE_NEXT);
}

static void goes_round_and_counts(void **state)
{
	struct nod_bitrate_search search = {.since = {1}};

	(void)state;
	for (size_t i = 1; i < NOD_BITRATE_USUAL_COUNT; i++)
		assert_int_equal(nod_bitrate_search_next(&search), nod_bitrate_usual[i]);
	assert_int_equal(search.rounds, 0);
	assert_int_equal(nod_bitrate_search_next(&search), nod_bitrate_usual[0]);
	assert_int_equal(search.rounds, 1);
}

static void a_rate_may_be_a_little_off(void **state)
{
	(void)state;
	assert_true(nod_bitrate_is(83333, 83333));
	assert_true(nod_bitrate_is(83916, 83333));
	assert_false(nod_bitrate_is(84700, 83333));
	for (size_t i = 0; i < NOD_BITRATE_USUAL_COUNT; i++)
		for (size_t k = 0; k < NOD_BITRATE_USUAL_COUNT; k++)
			assert_int_equal(nod_bitrate_is(nod_bitrate_usual[i], nod_bitrate_usual[k]),
					 i == k);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(whole_frames_are_the_right_rate),
		cmocka_unit_test(error_reports_alone_are_a_wrong_one),
		cmocka_unit_test(goes_round_and_counts),
		cmocka_unit_test(a_rate_may_be_a_little_off),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
