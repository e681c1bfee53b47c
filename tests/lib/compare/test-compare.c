/* SPDX-License-Identifier: MIT */
/* Before and after: what counts as fixed, and what does not. */
#include <math.h>

#include "chance.h"
#include "compare.h"
#include "current-trace.h"
#include "scene.h"

static const char car[] = "vehicle: invented\n"
			  "networks:\n"
			  "  body: { interfaces: [can0], sleeps within: 60 s, quiet time: 2 s }\n"
			  "modules:\n"
			  "  roof unit: { networks: [body], ids: [100], fuses: [F1] }\n"
			  "  boot unit: { networks: [body], ids: [200, 300] }\n"
			  "fuses: { F1: { rating: 5 A } }\n";

#define MINUTE INT64_C(60000)

struct pair {
	struct scene before, after;
	struct nod_arena arena;
	struct nod_comparison *c;
};

static void begin(struct pair *p)
{
	memset(p, 0, sizeof(*p));
	scene_begin(&p->before, car);
	scene_begin(&p->after, car);
	mark_at(&p->before, 0, NOD_MARK_LOCKED, "");
	mark_at(&p->after, 0, NOD_MARK_LOCKED, "");
}

static void compare(struct pair *p, int64_t before_ms, int64_t after_ms)
{
	found_at(&p->before, before_ms);
	found_at(&p->after, after_ms);
	p->c = nod_compare(&p->arena, (struct nod_compare_side){p->before.found, NULL},
			   (struct nod_compare_side){p->after.found, NULL});
	assert_non_null(p->c);
}

static void end(struct pair *p)
{
	nod_arena_free(&p->arena);
	scene_end(&p->before);
	scene_end(&p->after);
}

static void change_is(const struct pair *p, enum nod_change expected)
{
	if (p->c->change != expected)
		fail_msg("%s: %s", nod_change_name(p->c->change), p->c->sentence);
}

static const char *all_reasons(struct pair *p)
{
	const char *all = "";

	for (size_t i = 0; i < p->c->reason_count; i++)
		all = nod_arena_printf(&p->arena, "%s%s\n", all, p->c->reasons[i]);
	return all;
}

/* The roof unit holds; the boot unit follows for 30 s only. */
static void held(struct scene *s, int64_t until)
{
	PLAY(s, {0, "100#11", 100, until, 100}, {0, "200#22", 150, 30000, 200});
}

static void sleeps_at_20_s(struct scene *s)
{
	PLAY(s, {0, "100#11", 100, 20000, 100}, {0, "200#22", 150, 20000, 200});
}

/* Each time for a third of the interval, so that it matters. */
static void wakes_every(struct scene *s, int64_t first, int64_t every, int count)
{
	sleeps_at_20_s(s);
	for (int i = 0; i < count; i++) {
		int64_t from = first + i * every, until = from + every / 3;
		PLAY(s, {0, "100#11", from, until, 100}, {0, "200#22", from + 300, until, 200});
	}
}

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

/* A clock of 3 minutes: twice that without a wake-up. */
static void a_regular_waker_needs_two_of_its_periods(void **state)
{
	struct pair p;

	(void)state;
	begin(&p);
	wakes_every(&p.before, 2 * MINUTE, 3 * MINUTE, 6);
	sleeps_at_20_s(&p.after);
	compare(&p, 20 * MINUTE, 5 * MINUTE);
	assert_int_equal(p.before.found->verdict, NOD_VERDICT_WOKEN);
	assert_int_equal(p.c->networks[0].needed.ns, 6 * 60 * NOD_NS_PER_S);
	change_is(&p, NOD_CHANGE_CANNOT_TELL);
	assert_non_null(strstr(p.c->sentence, "more until that is proof"));
	end(&p);

	begin(&p);
	wakes_every(&p.before, 2 * MINUTE, 3 * MINUTE, 6);
	sleeps_at_20_s(&p.after);
	compare(&p, 20 * MINUTE, 8 * MINUTE);
	change_is(&p, NOD_CHANGE_FIXED);
	end(&p);
}

/* One wake-up in 20 minutes: (T/(T+t))^1 < 5 % takes 19 T. */
static void a_rare_waker_needs_long(void **state)
{
	struct pair p;

	(void)state;
	begin(&p);
	wakes_every(&p.before, 10 * MINUTE, 9 * MINUTE, 1);
	sleeps_at_20_s(&p.after);
	compare(&p, 20 * MINUTE, 60 * MINUTE);
	double watched = 20 * 60 - 19.95;
	assert_int_equal(p.c->networks[0].needed.ns / NOD_NS_PER_S, ceil(19 * watched));
	change_is(&p, NOD_CHANGE_CANNOT_TELL);
	end(&p);
}

/* Still woken, but too briefly for the verdict: the waker is still there. */
static void brief_wakes_afterwards_are_no_fix(void **state)
{
	struct pair p;

	(void)state;
	begin(&p);
	wakes_every(&p.before, 2 * MINUTE, 3 * MINUTE, 6);
	sleeps_at_20_s(&p.after);
	PLAY(&p.after, {0, "100#11", 10 * MINUTE, 10 * MINUTE + 300, 100});
	compare(&p, 20 * MINUTE, 40 * MINUTE);
	assert_int_equal(p.after.found->verdict, NOD_VERDICT_SLEEPS);
	change_is(&p, NOD_CHANGE_BETTER);
	end(&p);
}

static void fewer_wakes_beyond_chance_are_better(void **state)
{
	struct pair p;

	(void)state;
	begin(&p);
	wakes_every(&p.before, 2 * MINUTE, MINUTE, 17);
	wakes_every(&p.after, 2 * MINUTE, 8 * MINUTE, 2);
	compare(&p, 20 * MINUTE, 20 * MINUTE);
	change_is(&p, NOD_CHANGE_BETTER);
	end(&p);

	begin(&p);
	wakes_every(&p.before, 2 * MINUTE, 5 * MINUTE, 3);
	wakes_every(&p.after, 2 * MINUTE, 8 * MINUTE, 2);
	compare(&p, 20 * MINUTE, 20 * MINUTE);
	change_is(&p, NOD_CHANGE_NONE);
	end(&p);
}

static const struct nod_ident_change *ident_of(const struct pair *p, uint32_t id,
					       enum nod_ident_change_kind kind)
{
	for (size_t i = 0; i < p->c->ident_count; i++)
		if (p->c->idents[i].id == id && p->c->idents[i].kind == kind)
			return &p->c->idents[i];
	return NULL;
}

static void messages_that_changed_are_listed(void **state)
{
	struct pair p;

	(void)state;
	begin(&p);
	PLAY(&p.before, {0, "100#11", 100, 20000, 100}, {0, "300#33", 170, 20000, 500});
	PLAY(&p.after, {0, "100#11", 100, 20000, 200}, {0, "200#22", 150, 20000, 200});
	compare(&p, 5 * MINUTE, 5 * MINUTE);
	assert_int_equal(p.c->ident_count, 3);
	assert_non_null(ident_of(&p, 0x200, NOD_IDENT_APPEARED));
	assert_non_null(ident_of(&p, 0x300, NOD_IDENT_VANISHED));
	const struct nod_ident_change *i = ident_of(&p, 0x100, NOD_IDENT_PERIOD);
	assert_non_null(i);
	assert_int_equal(i->period_before.ns, 100 * NOD_NS_PER_MS);
	assert_int_equal(i->period_after.ns, 200 * NOD_NS_PER_MS);
	end(&p);
}

static void send(struct nod_timeline *t, struct scene *s, int64_t ms, const char *text)
{
	struct nod_event e = {.kind = NOD_EVENT_FRAME, .time = {ms * NOD_NS_PER_MS}};

	frame_at(s, ms, 0, text);
	assert_int_equal(nod_id_parse(&e.frame.id, text, 3), 0);
	e.frame.length = 1;
	e.frame.data[0] = (uint8_t)strtoul(text + 4, NULL, 16);
	assert_int_equal(nod_timeline_take(t, &e, (nod_duration){0}), 0);
}

static void bits_that_flipped_are_named(void **state)
{
	struct pair p;

	(void)state;
	begin(&p);
	struct nod_timeline *a = nod_timeline_new(&p.before.interfaces);
	struct nod_timeline *b = nod_timeline_new(&p.after.interfaces);
	for (int i = 0; i < 50; i++) {
		send(a, &p.before, 100 + 100 * i, "100#05");
		send(b, &p.after, 100 + 100 * i, "100#06");
	}
	found_at(&p.before, MINUTE);
	found_at(&p.after, MINUTE);
	p.c = nod_compare(&p.arena, (struct nod_compare_side){p.before.found, a},
			  (struct nod_compare_side){p.after.found, b});
	const struct nod_ident_change *i = ident_of(&p, 0x100, NOD_IDENT_BITS);
	assert_non_null(i);
	assert_int_equal(i->flipped, 0x03);
	assert_string_equal(i->bits, "flipped: byte 0 bits 0 1");
	nod_timeline_free(a);
	nod_timeline_free(b);
	end(&p);
}

static void two_cars_are_not_compared(void **state)
{
	struct pair p;

	(void)state;
	begin(&p);
	held(&p.before, 5 * MINUTE);
	PLAY(&p.before, {0, "301#11", 100, 9000, 100}, {0, "302#11", 100, 9000, 100},
	     {0, "303#11", 100, 9000, 100}, {0, "304#11", 100, 9000, 100});
	PLAY(&p.after, {0, "100#11", 100, 9000, 100}, {0, "402#11", 100, 9000, 100},
	     {0, "403#11", 100, 9000, 100}, {0, "404#11", 100, 9000, 100},
	     {0, "405#11", 100, 9000, 100});
	compare(&p, 5 * MINUTE, 20 * MINUTE);
	change_is(&p, NOD_CHANGE_CANNOT_TELL);
	assert_non_null(strstr(p.c->sentence, "two cars"));
	end(&p);
}

/* A session is no different from itself, whatever is in it. */
static void nothing_differs_from_itself(void **state)
{
	struct pair p;

	(void)state;
	begin(&p);
	struct nod_timeline *t = nod_timeline_new(&p.before.interfaces);
	struct nod_event lock = {.kind = NOD_EVENT_MARK, .time = {10 * NOD_NS_PER_S}};
	lock.mark = (struct nod_mark){lock.time, NOD_MARK_LOCKED, ""};
	for (int i = 0; i < 200; i++) { /* it moves until it is locked again, then stands */
		char text[8];
		snprintf(text, sizeof(text), "100#%02X", i < 99 && i % 30 < 15 ? 0x10 : 0x30);
		if (i == 99) {
			scene_take(&p.before, &lock);
			assert_int_equal(nod_timeline_take(t, &lock, (nod_duration){0}), 0);
		}
		send(t, &p.before, 100 + 100 * i, text);
	}
	found_at(&p.before, 5 * MINUTE);
	p.c = nod_compare(&p.arena, (struct nod_compare_side){p.before.found, t},
			  (struct nod_compare_side){p.before.found, t});
	change_is(&p, NOD_CHANGE_NONE);
	assert_int_not_equal(p.before.found->idents[0].changing_mask, 0);
	assert_int_equal(p.c->ident_count, 0);
	nod_timeline_free(t);
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
		cmocka_unit_test(a_regular_waker_needs_two_of_its_periods),
		cmocka_unit_test(a_rare_waker_needs_long),
		cmocka_unit_test(brief_wakes_afterwards_are_no_fix),
		cmocka_unit_test(fewer_wakes_beyond_chance_are_better),
		cmocka_unit_test(messages_that_changed_are_listed),
		cmocka_unit_test(bits_that_flipped_are_named),
		cmocka_unit_test(two_cars_are_not_compared),
		cmocka_unit_test(nothing_differs_from_itself),
		cmocka_unit_test(a_drain_is_mended_when_its_rest_was_watched),
		cmocka_unit_test(text_and_json_say_the_same),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
