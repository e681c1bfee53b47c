/* SPDX-License-Identifier: MIT */
/* What does not fit between the map and what was heard. */
#include "scene.h"

#define MIN (60 * 1000)

static const char two[] = "networks:\n"
			  "  body: { interfaces: [can0], sleeps within: 10 min }\n"
			  "  drive: { interfaces: [can1], sleeps within: 10 min }\n";

static bool is_said(const struct nod_findings *f, const char *text)
{
	for (size_t i = 0; i < f->doubt_count; i++)
		if (strstr(f->doubts[i], text))
			return true;
	return false;
}

static void test_a_network_that_the_map_lacks_is_said(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, two);
	PLAY(&s, {0, "100#00", 0, MIN, 100}, {1, "200#00", 0, MIN, 100},
	     {2, "300#00", 0, MIN, 100});
	const struct nod_findings *f = found_at(&s, 2 * MIN);
	assert_true(is_said(f, "The map has no network on can2, which was heard."));
	assert_false(is_said(f, "The map expects"));
	scene_end(&s);
}

static void test_an_interface_of_another_name_is_asked_about(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, two);
	PLAY(&s, {0, "100#00", 0, MIN, 100}, {2, "200#00", 0, MIN, 100});
	const struct nod_findings *f = found_at(&s, 2 * MIN);
	assert_true(is_said(f, "The map expects networks on can1, but can2 was heard"));
	assert_false(is_said(f, "The map has no network"));
	scene_end(&s);
}

static void test_what_fits_is_not_spoken_of(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, two);
	PLAY(&s, {0, "100#00", 0, MIN, 100});
	const struct nod_findings *f = found_at(&s, 2 * MIN);
	assert_false(is_said(f, "The map "));
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_a_network_that_the_map_lacks_is_said),
		cmocka_unit_test(test_an_interface_of_another_name_is_asked_about),
		cmocka_unit_test(test_what_fits_is_not_spoken_of),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
