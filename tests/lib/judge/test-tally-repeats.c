/* SPDX-License-Identifier: MIT */
#include "scene.h"

#define MIN (60 * 1000)

static const char body[] =
	"networks:\n"
	"  body: { interfaces: [can0], sleeps within: 10 min, quiet time: 3 s, "
	"management: { scheme: none } }\n"
	"  drive: { interfaces: [can1], sleeps within: 10 min }\n" /* heard in one test */
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

/* So many messages on the other network whose data move. */
static void crowd(struct scene *s, int messages)
{
	char text[20];

	for (int k = 0; k < 40; k++)
		for (int i = 0; i < messages; i++) {
			snprintf(text, sizeof(text), "%08X#%02X", 0x10000000 + i, k % 2);
			frame_at(s, 30 * MIN + 1500 * k + i, 1, text);
		}
}

/* Where this many move, some follow each other by chance. */
static void test_in_a_crowd_nobody_repeats(void **state)
{
	(void)state;
	static const struct {
		int messages;
		bool told;
	} crowds[] = {{900, true}, {1100, false}};

	for (size_t i = 0; i < 2; i++) {
		struct scene s;
		play_lamp(&s, 120);
		crowd(&s, crowds[i].messages);
		const struct nod_findings *f = found_at(&s, 31 * MIN);
		const char *lamp = evidence(f, "cluster", NOD_EV_PAYLOAD);
		if (crowds[i].told)
			assert_true(!lamp || strstr(lamp, "repeats"));
		else
			assert_non_null(strstr(lamp ? lamp : "", "400 byte 0 bit 4 changed"));
		scene_end(&s);
	}
}

int main(void)
{
	static const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_who_repeats_has_no_input),
		cmocka_unit_test(test_who_moves_at_other_times_does_not_repeat),
		cmocka_unit_test(test_in_a_crowd_nobody_repeats),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
