/* SPDX-License-Identifier: MIT */
#include "scene.h"

#define MIN (60 * 1000)

static const char doors[] = "networks:\n"
			    "  body: { interfaces: [can0], sleeps within: 10 min, quiet time: 3 s, "
			    "management: { scheme: none } }\n"
			    "modules:\n"
			    "  door unit: { ids: [300], inputs: [tailgate switch] }\n"
			    "  seat unit: { ids: [200] }\n";

/* 300 cycles with a handle bit (bit 3 of byte 1), 200 with a value that moves all
 * the time; the handle is pulled at `pulled` for a second. */
static void drive(struct scene *s, int64_t pulled, int64_t to)
{
	for (int64_t t = 0; t < to; t += 100) {
		char text[32];
		bool on = t >= pulled && t < pulled + 1000;
		frame_at(s, t, 0, on ? "300#0008" : "300#0000");
		snprintf(text, sizeof(text), "200#%02X55", (unsigned)(t / 100 * 37 & 0xFF));
		frame_at(s, t + 20, 0, text);
	}
}

static void test_a_handle_leads_to_the_bit_it_moves(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, doors);
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	drive(&s, 2 * MIN, 2 * MIN + 2000);
	mark_at(&s, 2 * MIN + 2000, NOD_MARK_TOUCHED, "tailgate switch"); /* noted after the hand */
	const struct nod_findings *f = found_at(&s, 3 * MIN);
	assert_true(f->touch_count >= 1);
	const struct nod_touch_finding *t = &f->touches[0];
	assert_string_equal(t->subject, "tailgate switch");
	assert_int_equal(f->idents[t->ident].id, 0x300);
	assert_int_equal(t->bit, 8 + 3);
	assert_int_equal(t->toggles, 2);
	assert_true(t->after.ns < 0 && t->after.ns >= -4 * NOD_NS_PER_S);
	scene_end(&s);
}

/* What moves all the time has its own reasons. */
static void test_a_value_that_always_moves_is_not_offered_first(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, doors);
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	drive(&s, 2 * MIN, 2 * MIN + 2000);
	mark_at(&s, 2 * MIN + 2000, NOD_MARK_TOUCHED, "tailgate switch");
	const struct nod_findings *f = found_at(&s, 3 * MIN);
	for (size_t i = 0; i < f->touch_count; i++)
		assert_int_not_equal(f->idents[f->touches[i].ident].id, 0x200);
	scene_end(&s);
}

static void test_a_bit_that_moved_long_before_is_not_offered(void **state)
{
	(void)state;
	struct scene s;
	scene_begin(&s, doors);
	mark_at(&s, 0, NOD_MARK_LOCKED, "");
	drive(&s, MIN, 2 * MIN);
	mark_at(&s, 2 * MIN, NOD_MARK_TOUCHED, "tailgate switch");
	assert_int_equal(found_at(&s, 3 * MIN)->touch_count, 0);
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_a_handle_leads_to_the_bit_it_moves),
		cmocka_unit_test(test_a_value_that_always_moves_is_not_offered_first),
		cmocka_unit_test(test_a_bit_that_moved_long_before_is_not_offered),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
