/* SPDX-License-Identifier: MIT */
#include "scene.h"

#define MIN (60 * 1000)

static const char body[] = "networks:\n"
			   "  body: { interfaces: [can0], sleeps within: 10 min, quiet time: 3 s, "
			   "management: { scheme: none } }\n"
			   "  drive: { interfaces: [can1] }\n" /* not heard */
			   "modules:\n"
			   "  roof unit: { networks: [body], ids: [100] }\n"
			   "  seat unit: { networks: [body], ids: [200] }\n"
			   "  door unit: { networks: [body], ids: [300] }\n"
			   "  cluster: { networks: [body], ids: [400] }\n";

/* A contact of the door unit moves now and then; the cluster's lamp moves `later`. */
static void play_lamp(struct scene *s, int64_t later)
{
	int64_t at = 0, next;

	scene_begin(s, body);
	mark_at(s, 0, NOD_MARK_LOCKED, "");
	for (int64_t i = 0; at < 30 * MIN; at = next, i++) {
		next = at + 1000 * (2 + 7919 * i % 23);
		next = next < 30 * MIN ? next : 30 * MIN;
		PLAY(s, {0, i % 2 ? "300#0004" : "300#0000", at + 40, next, 500},
		     {0, i % 2 ? "400#10" : "400#00", at + 40 + later, next, 500},
		     {0, "100#00", at + 10, next, 200}, {0, "200#00", at + 20, next, 200});
	}
}

static void test_who_repeats_has_no_input(void **state)
{
	(void)state;
	struct scene s;
	play_lamp(&s, 120);
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	assert_string_equal(f->suspects[0].name, "door unit");
	assert_true(f->suspects[0].probability > 2 * f->suspects[1].probability);
	assert_non_null(strstr(evidence(f, "door unit", NOD_EV_PAYLOAD), "as a switch does"));
	const char *lamp = evidence(f, "cluster", NOD_EV_PAYLOAD);
	assert_true(!lamp || strstr(lamp, "400 repeats what 300 said just before"));
	scene_end(&s);
}

/* Who is first by turns cannot be told; nor who moves at another time. */
static void test_who_moves_at_other_times_does_not_repeat(void **state)
{
	(void)state;
	struct scene s;
	play_lamp(&s, 1700);
	const struct nod_findings *f = found_at(&s, 30 * MIN);
	const char *lamp = evidence(f, "cluster", NOD_EV_PAYLOAD);
	assert_true(!lamp || !strstr(lamp, "repeats"));
	scene_end(&s);
}

int main(void)
{
	static const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_who_repeats_has_no_input),
		cmocka_unit_test(test_who_moves_at_other_times_does_not_repeat),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
