/* SPDX-License-Identifier: MIT */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "likeness.h"

#define NEAR 1e-9

/* A network with cyclic messages of 100 ms from `id` on. */
static void add(struct nod_car *car, unsigned network, uint32_t id, unsigned count)
{
	for (unsigned i = 0; i < count; i++)
		car->messages[car->message_count++] = (struct nod_car_message){
			id + i, 100000, (uint16_t)network, 0};
}

static struct nod_car new_car(void)
{
	struct nod_car car = {.path = "", .messages = calloc(2000, sizeof(*car.messages))};

	assert_non_null(car.messages);
	return car;
}

static void expect(const struct nod_car *a, const struct nod_car *b, double wanted)
{
	assert_true(fabs(nod_car_likeness(a, b) - wanted) < NEAR);
	assert_true(fabs(nod_car_likeness(b, a) - wanted) < NEAR);
}

static void test_shared_by_all(void **state)
{
	(void)state;
	struct nod_car a = new_car(), b = new_car();
	add(&a, 0, 0x100, 10);
	add(&b, 0, 0x102, 10);
	expect(&a, &a, 1);
	expect(&a, &b, 8 / 12.0);
	free(a.messages);
	free(b.messages);
}

/* 0.5 of the two at another pace; the two on event count a quarter. */
static void test_pace_and_events(void **state)
{
	(void)state;
	struct nod_car a = new_car(), b = new_car();
	add(&a, 0, 0x100, 10);
	add(&b, 0, 0x100, 10);
	b.messages[0].period_us = 140000; /* within the ratio */
	b.messages[1].period_us = 200000;
	b.messages[2].period_us = 50000;
	b.messages[3].period_us = a.messages[4].period_us = 0;
	expect(&a, &b, (6 + 2 * 0.5 + 2 * 0.25) / (8 + 2 * 0.25));
	free(a.messages);
	free(b.messages);
}

/* The networks have other numbers, and one of them was not tapped in the other recording. */
static void test_networks_find_each_other(void **state)
{
	(void)state;
	struct nod_car a = new_car(), b = new_car();
	add(&a, 0, 0x100, 10);
	add(&a, 1, 0x104, 20);
	add(&a, 2, 0x400, 30);
	add(&b, 3, 0x104, 20);
	add(&b, 5, 0x101, 10);
	expect(&a, &b, (20 + 9) / (20 + 11.0));
	free(a.messages);
	free(b.messages);
}

/* The same IDs on two networks are not the same message twice. */
static void test_other_networks_are_unlike(void **state)
{
	(void)state;
	struct nod_car a = new_car(), b = new_car();
	add(&a, 0, 0x100, 20);
	add(&b, 0, 0x200, 20);
	expect(&a, &b, 0);
	free(a.messages);
	free(b.messages);
}

static void test_too_little_to_tell(void **state)
{
	(void)state;
	struct nod_car a = new_car(), b = new_car();
	expect(&a, &b, -1);
	add(&a, 0, 0x100, 4);
	add(&b, 0, 0x100, 4);
	expect(&a, &b, -1);
	free(a.messages);
	free(b.messages);
}

static void test_more_networks_than_any_car_has(void **state)
{
	(void)state;
	struct nod_car a = new_car();
	for (unsigned n = 0; n < 100; n++)
		add(&a, n, 0x100 + 8 * n, 8);
	expect(&a, &a, 1);
	free(a.messages);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_shared_by_all),
		cmocka_unit_test(test_pace_and_events),
		cmocka_unit_test(test_networks_find_each_other),
		cmocka_unit_test(test_other_networks_are_unlike),
		cmocka_unit_test(test_too_little_to_tell),
		cmocka_unit_test(test_more_networks_than_any_car_has),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
