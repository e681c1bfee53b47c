/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>
#include <time.h>

#include <cmocka.h>

#include "ident-take.h"

static void test_standard_and_extended_are_different(void **state)
{
	(void)state;
	struct nod_idents idents = {0};
	assert_int_equal(nod_idents_get(&idents, 0x2A0)->id, 0x2A0);
	assert_int_equal(nod_idents_get(&idents, 0x2A0 | NOD_ID_EXTENDED)->id,
			 0x2A0 | NOD_ID_EXTENDED);
	assert_int_equal(idents.count, 2);
	assert_ptr_not_equal(nod_idents_find(&idents, 0x2A0),
			     nod_idents_find(&idents, 0x2A0 | NOD_ID_EXTENDED));
	nod_idents_clear(&idents);
}

static void test_a_record_is_made_once(void **state)
{
	(void)state;
	struct nod_idents idents = {0};
	assert_null(nod_idents_find(&idents, 0x7FF));
	assert_null(nod_idents_find(&idents, 0x18FF0010 | NOD_ID_EXTENDED));
	struct nod_ident *ident = nod_idents_get(&idents, 0x7FF);
	ident->bits = 5;
	assert_int_equal(nod_idents_get(&idents, 0x7FF)->bits, 5);
	assert_int_equal(idents.count, 1);
	nod_idents_clear(&idents);
}

static uint32_t scattered(uint32_t i)
{
	return NOD_ID_EXTENDED | (i * UINT32_C(2654435761) & NOD_ID_EXTENDED_MASK);
}

static double seconds_to_find(const struct nod_idents *idents, uint32_t among)
{
	struct timespec from, to;
	clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &from);
	for (uint32_t i = 0; i < 200000; i++)
		if (nod_idents_find(idents, scattered(i % among))->id != scattered(i % among))
			fail();
	clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &to);
	return (double)(to.tv_sec - from.tv_sec) + (double)(to.tv_nsec - from.tv_nsec) / 1e9;
}

/* Found without a search through all: a linear one would take some thousand
 * times as long with 100,000 IDs as with 100, memory caches twenty at worst. */
static void test_a_hundred_thousand_extended_ids_are_found_at_once(void **state)
{
	(void)state;
	struct nod_idents few = {0}, many = {0};
	for (uint32_t i = 0; i < 100; i++)
		assert_non_null(nod_idents_get(&few, scattered(i)));
	for (uint32_t i = 0; i < 100000; i++)
		assert_non_null(nod_idents_get(&many, scattered(i)));
	assert_int_equal(many.count, 100000);
	double base = seconds_to_find(&few, 100);
	assert_true(seconds_to_find(&many, 100000) < 200 * base + 0.01);
	nod_idents_clear(&few);
	nod_idents_clear(&many);
}

static void test_a_hostile_capture_does_not_eat_the_machine(void **state)
{
	(void)state;
	struct nod_idents idents = {0};
	for (uint32_t i = 0; i < NOD_IDENTS_MAX; i++)
		assert_non_null(nod_idents_get(&idents, i | NOD_ID_EXTENDED));
	assert_null(nod_idents_get(&idents, NOD_IDENTS_MAX | NOD_ID_EXTENDED));
	assert_int_equal(idents.count, NOD_IDENTS_MAX);
	assert_non_null(nod_idents_get(&idents, 7 | NOD_ID_EXTENDED)); /* the known ones go on */
	nod_idents_clear(&idents);
}

/* IDs computed so that the multiplication alone would begin the search for all of them at
 * the same few slots, which would make each search as long as there are IDs. */
static void test_ids_chosen_to_collide_are_spread(void **state)
{
	(void)state;
	enum { IDS = 20000, PARTS = 64 };
	const uint32_t inverse = 244002641; /* of 2654435761 */
	struct nod_idents idents = {0};
	uint32_t in_part[PARTS] = {0}, most = 0;

	for (uint32_t h = 0; idents.count < IDS; h++) {
		uint32_t id = inverse * h;
		if (id & NOD_ID_EXTENDED && !(id & (NOD_ID_REMOTE | NOD_ID_ERROR)))
			assert_non_null(nod_idents_get(&idents, id));
	}
	for (uint32_t i = 0; i < IDS; i++)
		in_part[nod_idents_hash(&idents, idents.items[i].id) /
			(idents.slot_count / PARTS)]++;
	for (int i = 0; i < PARTS; i++)
		most = in_part[i] > most ? in_part[i] : most;
	assert_true(most < IDS / 4);
	nod_idents_clear(&idents);
}

static void test_frames_are_counted_by_phase(void **state)
{
	(void)state;
	struct nod_idents idents = {0};
	struct nod_frame frame = {.id = 0x100, .length = 1, .time = {1000}};
	struct nod_ident *ident = nod_idents_get(&idents, 0x100);
	nod_ident_take(ident, &frame, NOD_PHASE_SETTLING, -1);
	frame.time.ns = 2000;
	nod_ident_take(ident, &frame, NOD_PHASE_LATE, 1000);
	assert_int_equal(ident->frames[NOD_PHASE_USE], 0);
	assert_int_equal(ident->frames[NOD_PHASE_SETTLING], 1);
	assert_int_equal(ident->frames[NOD_PHASE_LATE], 1);
	assert_int_equal(nod_ident_frames(ident), 2);
	nod_idents_clear(&idents);
}

/* By its ID; by the form of all its frames only beside a tester. */
static void test_a_testers_work_is_known_by_its_id_or_its_form(void **state)
{
	(void)state;
	struct nod_ident by_id = {.frames = {0, 5, 95}, .diagnostic = 95};
	struct nod_ident now_and_then = {.frames = {0, 5, 95}, .diagnostic = 80};
	struct nod_ident by_form = {.frames = {0, 5, 95}, .service_like = 100};
	assert_true(nod_ident_is_diagnostic(&by_id, false));
	assert_false(nod_ident_is_diagnostic(&now_and_then, true));
	assert_false(nod_ident_is_diagnostic(&by_form, false));
	assert_true(nod_ident_is_diagnostic(&by_form, true));
}

/* What was kept of the period is never older than the samples. */
static void test_a_kept_period_follows_the_samples(void **state)
{
	(void)state;
	struct nod_after after = {0};
	struct nod_ident ident = {0};

	for (int i = 0; i < 3000; i++) {
		bool late = i >= 1500;
		ident.after = late ? &after : NULL;
		nod_sampler_take(late ? &after.intervals : &ident.settled,
				 (late ? 1000 : 100 + i) * NOD_NS_PER_MS);
		nod_ident_keep_period(&ident);
		struct nod_period p = nod_sampler_period(
			late && after.intervals.used >= 5 ? &after.intervals : &ident.settled);
		assert_int_equal(nod_ident_period(&ident).period.ns, p.period.ns);
		assert_int_equal(nod_ident_period(&ident).jitter.ns, p.jitter.ns);
		assert_int_equal(nod_ident_period(&ident).rhythm, p.rhythm);
	}
	assert_int_equal(nod_ident_period(&ident).period.ns, NOD_NS_PER_S);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_standard_and_extended_are_different),
		cmocka_unit_test(test_a_record_is_made_once),
		cmocka_unit_test(test_a_hundred_thousand_extended_ids_are_found_at_once),
		cmocka_unit_test(test_a_hostile_capture_does_not_eat_the_machine),
		cmocka_unit_test(test_ids_chosen_to_collide_are_spread),
		cmocka_unit_test(test_frames_are_counted_by_phase),
		cmocka_unit_test(test_a_testers_work_is_known_by_its_id_or_its_form),
		cmocka_unit_test(test_a_kept_period_follows_the_samples),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
