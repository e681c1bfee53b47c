/* SPDX-License-Identifier: MIT */
/* Which messages come at a period, and when each of them stopped. */
#include "cyclic-messages.h"
#include "scene.h"

#define AT(ms) ((nod_time){(ms)*NOD_NS_PER_MS})
#define ALL ((nod_duration){INT64_MAX})

static const char car[] = "networks:\n  body: { interfaces: [can0] }\n"
			  "modules:\n  radio: { ids: [101] }\n";

/* 101 stops at 30 s and is back at 40 s, 102 stops at 50 s, 103 goes on, 104 is slow. */
static void drive(struct scene *s)
{
	PLAY(s, {0, "101#00", 0, 30000, 100}, {0, "101#00", 40000, 60000, 100},
	     {0, "102#00", 0, 50000, 200}, {0, "103#00", 0, 60000, 100},
	     {0, "104#00", 0, 60000, 3000});
}

/* The message that is `n`th by what it was heard first; all begin at once, in order. */
static const struct nod_cyclic *message(const struct nod_cyclics *v, size_t n)
{
	assert_true(n < v->count);
	return &v->messages[n];
}

static void test_stops_are_dated(void **state)
{
	(void)state;
	struct scene s;
	struct nod_cyclics v;

	scene_begin(&s, car);
	drive(&s);
	assert_true(nod_cyclics_gather(&v, s.engine, AT(0), AT(60000), ALL));
	assert_int_equal(v.count, 4);
	assert_int_equal(v.stop_count, 2);
	const struct nod_cyclic *radio = message(&v, 0), *other = message(&v, 1);
	assert_int_equal(radio->module, 0);
	assert_int_equal(other->module, NOD_NONE);
	assert_in_range(radio->period.ns, 95 * NOD_NS_PER_MS, 105 * NOD_NS_PER_MS);
	const struct nod_stop *back = &v.stops[radio->first], *gone = &v.stops[other->first];
	assert_int_equal(back->from.ns, AT(29900).ns);
	assert_int_equal(back->to.ns, AT(40000).ns);
	assert_true(back->due.ns > AT(30000).ns && back->due.ns < AT(30500).ns);
	assert_int_equal(gone->from.ns, AT(49800).ns);
	assert_int_equal(gone->to.ns, INT64_MAX);
	assert_int_equal(message(&v, 2)->count, 0);
	nod_cyclics_clear(&v);
	scene_end(&s);
}

static void test_what_a_message_did_at_a_moment(void **state)
{
	(void)state;
	struct scene s;
	struct nod_cyclics v;
	const struct nod_stop *stop = NULL;

	scene_begin(&s, car);
	drive(&s);
	assert_true(nod_cyclics_gather(&v, s.engine, AT(0), AT(60000), ALL));
	const struct nod_cyclic *radio = message(&v, 0), *steady = message(&v, 2);
	assert_int_equal(nod_cyclic_at(&v, radio, AT(30000), &stop), NOD_CYCLIC_STOPPED);
	assert_ptr_equal(stop, &v.stops[radio->first]);
	assert_int_equal(nod_cyclic_at(&v, radio, AT(35000), &stop), NOD_CYCLIC_SILENT);
	assert_int_equal(nod_cyclic_at(&v, radio, AT(45000), &stop), NOD_CYCLIC_ON);
	assert_int_equal(nod_cyclic_at(&v, steady, AT(30000), &stop), NOD_CYCLIC_ON);
	assert_true(nod_cyclic_is_after(steady, AT(30000)));
	assert_false(nod_cyclic_is_after(message(&v, 1), AT(50000)));
	nod_cyclics_clear(&v);
	scene_end(&s);
}

static void test_what_is_left_out(void **state)
{
	(void)state;
	struct scene s;
	struct nod_cyclics v;

	scene_begin(&s, car);
	drive(&s);
	assert_true(nod_cyclics_gather(&v, s.engine, AT(0), AT(60000),
				       (nod_duration){1000 * NOD_NS_PER_MS}));
	assert_int_equal(v.count, 3); /* 104 is too slow */
	nod_cyclics_clear(&v);
	assert_true(nod_cyclics_gather(&v, s.engine, AT(45000), AT(60000), ALL));
	assert_int_equal(v.stop_count, 1); /* of 102; that of 101 was before */
	nod_cyclics_clear(&v);
	scene_end(&s);
}

static void test_a_quick_look(void **state)
{
	(void)state;
	struct scene s;

	scene_begin(&s, car);
	drive(&s);
	assert_true(nod_cyclics_any_stopped(s.engine, AT(29000), AT(31000)));
	assert_true(nod_cyclics_any_stopped(s.engine, AT(49000), AT(51000)));
	assert_false(nod_cyclics_any_stopped(s.engine, AT(41000), AT(49000)));
	scene_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_stops_are_dated),
		cmocka_unit_test(test_what_a_message_did_at_a_moment),
		cmocka_unit_test(test_what_is_left_out),
		cmocka_unit_test(test_a_quick_look),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
