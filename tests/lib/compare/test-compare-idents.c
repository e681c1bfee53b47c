/* SPDX-License-Identifier: MIT */
/* Messages that changed, and whether it is the same car at all. */
#include "pair.h"

static const struct nod_ident_change *ident_of(const struct pair *p, uint32_t id,
					       enum nod_ident_change_kind kind)
{
	for (size_t i = 0; i < p->c->ident_count; i++)
		if (p->c->idents[i].id == id && p->c->idents[i].kind == kind)
			return &p->c->idents[i];
	return NULL;
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

/* Who speaks past the deadline in one of them only, while others do in both. */
static void who_is_late_in_one_only_is_listed(void **state)
{
	struct pair p;

	(void)state;
	begin(&p);
	PLAY(&p.before, {0, "100#11", 100, 5 * MINUTE, 100}, {0, "200#22", 150, 20000, 500},
	     {0, "300#33", 170, 5 * MINUTE, 500});
	PLAY(&p.after, {0, "100#11", 100, 5 * MINUTE, 100}, {0, "200#22", 150, 5 * MINUTE, 500},
	     {0, "300#33", 170, 20000, 500});
	compare(&p, 5 * MINUTE, 5 * MINUTE);
	assert_int_equal(p.c->ident_count, 2);
	assert_non_null(ident_of(&p, 0x200, NOD_IDENT_LATE_BEGUN));
	assert_non_null(ident_of(&p, 0x300, NOD_IDENT_LATE_ENDED));
	end(&p);
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

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(messages_that_changed_are_listed),
		cmocka_unit_test(who_is_late_in_one_only_is_listed),
		cmocka_unit_test(bits_that_flipped_are_named),
		cmocka_unit_test(two_cars_are_not_compared),
		cmocka_unit_test(nothing_differs_from_itself),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
