/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "nearest-word.h"

static void test_distances(void **state)
{
	(void)state;
	char longer[NOD_NEAREST_LENGTH_MAX + 2];
	assert_int_equal(nod_edit_distance("", ""), 0);
	assert_int_equal(nod_edit_distance("abc", ""), 3);
	assert_int_equal(nod_edit_distance("", "abc"), 3);
	assert_int_equal(nod_edit_distance("kitten", "sitting"), 3);
	assert_int_equal(nod_edit_distance("sitting", "kitten"), 3);
	assert_int_equal(nod_edit_distance("Ring", "rING"), 0);
	memset(longer, 'a', sizeof(longer));
	longer[sizeof(longer) - 1] = 0;
	assert_true(nod_edit_distance(longer, "a") == SIZE_MAX);
	assert_true(nod_edit_distance("a", longer) == SIZE_MAX);
	assert_int_equal(nod_edit_distance("a", longer + 1), NOD_NEAREST_LENGTH_MAX - 1);
}

static const char *nearest(const char *word)
{
	static const char *const known[] = {"interfaces",    "bitrate", "data bitrate",
					    "sleeps within", "ids",     "node"};
	struct nod_nearest nearest = {.word = word};
	for (size_t i = 0; i < sizeof(known) / sizeof(known[0]); i++)
		nod_nearest_offer(&nearest, known[i]);
	return nearest.best ? nearest.best : "-";
}

static void test_the_nearest_is_proposed_if_it_is_near(void **state)
{
	(void)state;
	assert_string_equal(nearest("sleep within"), "sleeps within");
	assert_string_equal(nearest("sleeps_within"), "sleeps within");
	assert_string_equal(nearest("bitrates"), "bitrate");
	assert_string_equal(nearest("id"), "ids");
	assert_string_equal(nearest("box"), "-");
	assert_string_equal(nearest("name"), "-");
	assert_string_equal(nearest(""), "-");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_distances),
		cmocka_unit_test(test_the_nearest_is_proposed_if_it_is_near),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
