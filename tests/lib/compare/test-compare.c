/* SPDX-License-Identifier: MIT */
/* Before and after: what counts as fixed, and what does not. */
#include <math.h>

#include "chance.h"
#include "current-trace.h"
#include "pair.h"

static void a_long_sleep_proves_the_fix(void **state)
{
	struct pair p;

	(void)state;
	begin(&p);
	held(&p.before, 5 * MINUTE);
	sleeps_at_20_s(&p.after);
	compare(&p, 5 * MINUTE, 11 * MINUTE);
	assert_int_equal(p.before.found->verdict, NOD_VERDICT_KEPT_AWAKE);
	change_is(&p, NOD_CHANGE_FIXED);
	assert_int_equal(p.c->networks[0].needed.ns, NOD_PROOF_SLEEP_S * NOD_NS_PER_S);
	assert_non_null(strstr(all_reasons(&p), "ten minutes"));
	end(&p);
}

static void a_short_sleep_is_better_only(void **state)
{
	struct pair p;

	(void)state;
	begin(&p);
	held(&p.before, 5 * MINUTE);
	sleeps_at_20_s(&p.after);
	compare(&p, 5 * MINUTE, 5 * MINUTE);
	change_is(&p, NOD_CHANGE_BETTER);
	/* 600 s - (300 s - 19.95 s): the last frame is the boot unit's. */
	assert_non_null(strstr(p.c->sentence, "5 min 20 s more"));
	end(&p);
}

static void a_loss_in_the_sleep_is_no_proof(void **state)
{
	struct pair p;

	(void)state;
	begin(&p);
	held(&p.before, 5 * MINUTE);
	sleeps_at_20_s(&p.after);
	loss_at(&p.after, 5 * MINUTE, 0);
	compare(&p, 5 * MINUTE, 11 * MINUTE);
	assert_int_not_equal(p.c->change, NOD_CHANGE_FIXED);
	end(&p);
}

static void the_fuse_still_out_is_no_repair(void **state)
{
	struct pair p;

	(void)state;
	begin(&p);
	held(&p.before, 5 * MINUTE);
	PLAY(&p.after, {0, "100#11", 100, 5000, 100}, {0, "200#22", 150, 20000, 200});
	mark_at(&p.after, 20500, NOD_MARK_ISOLATED, "F1");
	compare(&p, 5 * MINUTE, 20 * MINUTE);
	change_is(&p, NOD_CHANGE_BETTER);
	assert_non_null(strstr(all_reasons(&p), "F1 is still isolated"));
	end(&p);
}

static void the_same_fault_is_no_change(void **state)
{
	struct pair p;

	(void)state;
	begin(&p);
	held(&p.before, 5 * MINUTE);
	held(&p.after, 5 * MINUTE);
	compare(&p, 5 * MINUTE, 5 * MINUTE);
	change_is(&p, NOD_CHANGE_NONE);
	assert_non_null(strstr(p.c->sentence, "same fault"));
	end(&p);
}

static void a_new_fault_is_worse(void **state)
{
	struct pair p;

	(void)state;
	begin(&p);
	sleeps_at_20_s(&p.before);
	held(&p.after, 5 * MINUTE);
	compare(&p, 5 * MINUTE, 5 * MINUTE);
	change_is(&p, NOD_CHANGE_WORSE);
	end(&p);
}

static void a_recording_too_short_tells_nothing(void **state)
{
	struct pair p;

	(void)state;
	begin(&p);
	held(&p.before, 5 * MINUTE);
	held(&p.after, 30000);
	compare(&p, 5 * MINUTE, 30000);
	assert_int_equal(p.after.found->verdict, NOD_VERDICT_CANNOT_TELL);
	change_is(&p, NOD_CHANGE_CANNOT_TELL);
	end(&p);
}

static void an_unheard_network_is_not_asleep(void **state)
{
	struct pair p;

	(void)state;
	begin(&p);
	held(&p.before, 5 * MINUTE);
	compare(&p, 5 * MINUTE, 30 * MINUTE);
	change_is(&p, NOD_CHANGE_CANNOT_TELL);
	assert_non_null(strstr(all_reasons(&p), "not sleep"));
	end(&p);
}

static void rests_at(struct scene *s, int64_t until_s, int64_t ua)
{
	sleeps_at_20_s(s);
	for (int64_t t = 21; t < until_s; t++) {
		struct nod_event e = {.kind = NOD_EVENT_CURRENT, .time = {t * NOD_NS_PER_S}};
		e.current.microamps = ua + t % 5 * 100;
		scene_take(s, &e);
	}
}

static void a_drain_is_mended_when_its_rest_was_watched(void **state)
{
	struct pair p;

	(void)state;
	begin(&p);
	rests_at(&p.before, 900, 400000);
	rests_at(&p.after, 900, 12000);
	compare(&p, 15 * MINUTE, 15 * MINUTE);
	assert_int_equal(p.before.found->verdict, NOD_VERDICT_DRAWS);
	change_is(&p, NOD_CHANGE_FIXED);
	end(&p);

	begin(&p);
	rests_at(&p.before, 900, 400000);
	rests_at(&p.after, 500, 12000);
	compare(&p, 15 * MINUTE, 500000);
	change_is(&p, NOD_CHANGE_BETTER);
	assert_non_null(strstr(p.c->sentence, "more until that is proof"));
	end(&p);

	begin(&p);
	rests_at(&p.before, 900, 12000);
	rests_at(&p.after, 900, 400000);
	compare(&p, 15 * MINUTE, 15 * MINUTE);
	change_is(&p, NOD_CHANGE_WORSE);
	end(&p);
}

static void text_and_json_say_the_same(void **state)
{
	struct pair p;
	char *text;
	size_t size;

	(void)state;
	begin(&p);
	held(&p.before, 5 * MINUTE);
	sleeps_at_20_s(&p.after);
	compare(&p, 5 * MINUTE, 11 * MINUTE);
	FILE *out = open_memstream(&text, &size);
	assert_int_equal(nod_comparison_print(out, p.c), 0);
	fclose(out);
	assert_memory_equal(text, "Fixed: ", 7);
	free(text);
	json_t *json = nod_comparison_json(p.c);
	assert_string_equal(json_string_value(json_object_get(json, "change")), "fixed");
	json_t *network = json_array_get(json_object_get(json, "networks"), 0);
	assert_string_equal(json_string_value(json_object_get(network, "before")), "kept awake");
	assert_true(fabs(json_real_value(json_object_get(network, "needed_s")) - 600) < 1e-9);
	json_decref(json);
	end(&p);
}

/* Both currents at rest, and their uncertainty, in mA. */
static const char *told_of(double before, double after, double unsure)
{
	struct nod_current_findings b = {.quiescent_known = true,
					 .quiescent_ua = before * 1000,
					 .quiescent_uncertainty_ua = unsure * 1000},
				    a = b;
	static char said[1024];
	struct pair p;

	a.quiescent_ua = after * 1000;
	begin(&p);
	sleeps_at_20_s(&p.before);
	sleeps_at_20_s(&p.after);
	found_at(&p.before, 10 * MINUTE);
	found_at(&p.after, 10 * MINUTE);
	struct nod_findings before_found = *p.before.found, after_found = *p.after.found;
	before_found.current = &b;
	after_found.current = &a;
	p.c = nod_compare(&p.arena, (struct nod_compare_side){&before_found, NULL},
			  (struct nod_compare_side){&after_found, NULL});
	assert_non_null(p.c);
	snprintf(said, sizeof(said), "%s", all_reasons(&p));
	end(&p);
	return said;
}

/* Two clamps, or one on two days: a difference below what they are unsure by is none. */
static void currents_that_are_unsure_are_not_told_apart(void **state)
{
	(void)state;
	assert_non_null(strstr(told_of(40, 30, 10), "no difference is told"));
	assert_non_null(strstr(told_of(40, 20, 10), "the two are told apart"));
}

/* Days, or why they are not known. */
static void the_outlook_of_both_is_printed(void **state)
{
	struct pair p;
	char *text;
	size_t size;

	(void)state;
	begin(&p);
	PLAY(&p.before, {0, "100#11", 100, 20000, 100});
	PLAY(&p.after, {0, "100#11", 100, 20000, 100});
	compare(&p, 5 * MINUTE, 5 * MINUTE);
	p.before.found->has_current = true;
	p.c->outlook_known = true;
	p.c->outlook_before = (struct nod_outlook){
		.drain_known = true, .drain_ua = 430000, .missing = "no capacity is given"};
	p.c->outlook_after = (struct nod_outlook){.drain_known = true,
						  .drain_ua = 21000,
						  .missing = "",
						  .battery.seconds.rule = 864000};
	FILE *out = open_memstream(&text, &size);
	assert_int_equal(nod_comparison_print(out, p.c), 0);
	fclose(out);
	assert_non_null(strstr(text, "days not known: no capacity is given"));
	assert_non_null(strstr(text, "about 10.0 days until it does not start"));
	free(text);
	end(&p);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(currents_that_are_unsure_are_not_told_apart),
		cmocka_unit_test(a_long_sleep_proves_the_fix),
		cmocka_unit_test(a_short_sleep_is_better_only),
		cmocka_unit_test(a_loss_in_the_sleep_is_no_proof),
		cmocka_unit_test(the_fuse_still_out_is_no_repair),
		cmocka_unit_test(the_same_fault_is_no_change),
		cmocka_unit_test(a_new_fault_is_worse),
		cmocka_unit_test(a_recording_too_short_tells_nothing),
		cmocka_unit_test(an_unheard_network_is_not_asleep),
		cmocka_unit_test(a_drain_is_mended_when_its_rest_was_watched),
		cmocka_unit_test(the_outlook_of_both_is_printed),
		cmocka_unit_test(text_and_json_say_the_same),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
