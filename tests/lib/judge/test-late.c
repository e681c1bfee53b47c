/* SPDX-License-Identifier: MIT */
/* When being awake was late, with a journal in between. */
#include "scene.h"

static const char car[] = "networks:\n"
			  "  body: { interfaces: [can0], sleeps within: 60 s, quiet time: 2 s }\n";

static void check(struct scene *s, const int64_t *expected_ms, size_t expected)
{
	const struct nod_late *late = s->found->networks[0].late;

	assert_int_equal(s->found->networks[0].late_count, expected);
	for (size_t i = 0; i < expected; i++) {
		assert_int_equal(late[i].from.ns / NOD_NS_PER_MS, expected_ms[2 * i]);
		assert_int_equal(late[i].to.ns / NOD_NS_PER_MS, expected_ms[2 * i + 1]);
	}
}

static void begin(struct scene *s)
{
	scene_begin(s, car);
	mark_at(s, 1000, NOD_MARK_LOCKED, "");
	frame_at(s, 2000, 0, "100#11");
}

static void from_the_deadline_to_the_end(void **state)
{
	struct scene s;

	(void)state;
	begin(&s);
	found_at(&s, 200000);
	check(&s, (const int64_t[]){61000, 200000}, 1);
	scene_end(&s);
}

static void a_disturbance_starts_the_clock_anew(void **state)
{
	struct scene s;

	(void)state;
	begin(&s);
	mark_at(&s, 30000, NOD_MARK_NOTE, "says nothing");
	mark_at(&s, 100000, NOD_MARK_ISOLATED, "F1");
	mark_at(&s, 110000, NOD_MARK_DOOR, "boot");
	found_at(&s, 300000);
	check(&s, (const int64_t[]){61000, 100000, 170000, 300000}, 2);
	scene_end(&s);
}

static void in_use_nothing_is_late(void **state)
{
	struct scene s;

	(void)state;
	begin(&s);
	mark_at(&s, 30000, NOD_MARK_UNLOCKED, "");
	found_at(&s, 300000);
	check(&s, NULL, 0);
	scene_end(&s);
}

static void too_short_is_never_late(void **state)
{
	struct scene s;

	(void)state;
	begin(&s);
	found_at(&s, 61000);
	check(&s, NULL, 0);
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(from_the_deadline_to_the_end),
		cmocka_unit_test(a_disturbance_starts_the_clock_anew),
		cmocka_unit_test(in_use_nothing_is_late),
		cmocka_unit_test(too_short_is_never_late),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
