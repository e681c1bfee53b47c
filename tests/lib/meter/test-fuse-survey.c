/* SPDX-License-Identifier: MIT */
#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "fuse-survey.h"

/* An invented car: eight 10 A fuses, F1..F8 (indices 0..7). F1-F3 feed modules
 * of the network "body", F4-F5 those of "drive"; F6-F8 feed no module. F1, F4
 * and F6 sit in the box "engine", the others in "cabin"; F7 and F8 feed the
 * socket. */
static char *const names[] = {"F1", "F2", "F3", "F4", "F5", "F6", "F7", "F8"};
static char family[] = "ato", cabin[] = "cabin", engine[] = "engine", socket_text[] = "socket";
static char *sockets[] = {socket_text};
static int body = 0, drive = 1;
static int fuses_of[][2] = {{0, 1}, {2, 0}, {3, 4}};

struct car {
	struct nod_vehicle vehicle;
	struct nod_fuse fuses[8];
	struct nod_module modules[3];
	struct nod_network networks[2];
};

static void car_init(struct car *car)
{
	*car = (struct car){0};
	for (size_t i = 0; i < 8; i++)
		car->fuses[i] = (struct nod_fuse){
			.name = names[i], .family = family, .rating_ma = 10000, .box = cabin};
	car->fuses[0].box = car->fuses[3].box = car->fuses[5].box = engine;
	car->fuses[6].feeds = car->fuses[7].feeds = sockets;
	car->fuses[6].feed_count = car->fuses[7].feed_count = 1;
	static char door[] = "door module", roof[] = "roof module", gearbox[] = "gearbox module";
	static char body_name[] = "body", drive_name[] = "drive";
	car->networks[0].name = body_name;
	car->networks[1].name = drive_name;
	car->modules[0] = (struct nod_module){.name = door,
					      .networks = &body,
					      .network_count = 1,
					      .fuses = fuses_of[0],
					      .fuse_count = 2};
	car->modules[1] = (struct nod_module){.name = roof,
					      .networks = &body,
					      .network_count = 1,
					      .fuses = fuses_of[1],
					      .fuse_count = 1};
	car->modules[2] = (struct nod_module){.name = gearbox,
					      .networks = &drive,
					      .network_count = 1,
					      .fuses = fuses_of[2],
					      .fuse_count = 2};
	car->vehicle = (struct nod_vehicle){.networks = car->networks,
					    .network_count = 2,
					    .modules = car->modules,
					    .module_count = 3,
					    .fuses = car->fuses,
					    .fuse_count = 8};
}

static struct nod_fuse_reading reading(int fuse, int64_t uv)
{
	return (struct nod_fuse_reading){
		.name = names[fuse], .fuse = fuse, .uv = uv, .uncertainty_uv = 100};
}

static struct nod_fuse_survey *body_carries(struct car *car, const int64_t *clamp_ua)
{
	struct nod_fuse_reading r[8];

	car_init(car);
	for (int i = 0; i < 8; i++)
		r[i] = reading(i, i < 3 ? 1000 + 100 * i : 0);
	struct nod_fuse_survey *s = nod_fuse_survey_make(&car->vehicle, r, 8, clamp_ua, 0, NULL);
	assert_non_null(s);
	return s;
}

static void test_lines_carry_modules_and_come_largest_first(void **state)
{
	(void)state;
	struct car car;
	struct nod_fuse_survey *s = body_carries(&car, NULL);

	assert_int_equal(s->line_count, 8);
	assert_int_equal(s->carrying, 3);
	assert_string_equal(s->lines[0].reading.name, "F3");
	assert_int_equal(s->lines[0].module_count, 1);
	assert_int_equal(s->lines[0].modules[0], 1);
	assert_string_equal(s->lines[2].reading.name, "F1");
	assert_int_equal(s->lines[2].current.ua, 129870); /* 1 mV on 10 A, published as 130 mA */
	assert_string_equal(s->lines[7].reading.name, "F8");
	assert_int_equal(s->lines[7].module_count, 0);
	nod_fuse_survey_free(s);
}

static void test_what_they_share_comes_with_its_exact_chance(void **state)
{
	(void)state;
	struct car car;
	struct nod_fuse_survey *s = body_carries(&car, NULL);

	/* Compared: two networks, door module, gearbox module, two boxes, the
	 * socket (the roof module has one fuse only). */
	assert_int_equal(s->compared, 7);
	/* All three of the three body fuses of eight: 1 in C(8,3) = 56. */
	const struct nod_fuse_common *c = &s->common[0];
	assert_int_equal(c->tie, NOD_TIE_NETWORK);
	assert_string_equal(c->name, "body");
	assert_int_equal(c->both, 3);
	assert_true(fabs(c->chance - 1.0 / 56) < 1e-15);
	assert_true(fabs(c->corrected - 7.0 / 56) < 1e-15);
	/* Both fuses of the door module among three carriers: 6 in 56. */
	c = &s->common[1];
	assert_int_equal(c->tie, NOD_TIE_MODULE);
	assert_string_equal(c->name, "door module");
	assert_true(fabs(c->chance - 6.0 / 56) < 1e-15);
	/* Two of the five in the cabin box: C(5,2)*3 + C(5,3) = 40 in 56. */
	c = &s->common[2];
	assert_string_equal(c->name, "cabin");
	assert_true(fabs(c->chance - 40.0 / 56) < 1e-15);
	assert_true(c->corrected == 1);
	assert_int_equal(s->common_count, 3);
	nod_fuse_survey_free(s);
}

static void test_the_clamp_is_compared_as_an_interval(void **state)
{
	(void)state;
	struct car car;
	int64_t clamp = 430000;
	struct nod_fuse_survey *s = body_carries(&car, &clamp);

	/* 0.9 + 1.0 + 1.1 mV over 1.1 x 7.7 mOhm, each rounded down. */
	assert_int_equal(s->sum_low_ua, 106257 + 118063 + 129870);
	assert_int_equal(s->rest, NOD_REST_EXPLAINED);
	assert_int_equal(s->clamp_low_ua, 410000);
	assert_int_equal(s->clamp_high_ua, 450000);
	assert_int_equal(s->rest_high_ua, 450000 - s->sum_low_ua);
	nod_fuse_survey_free(s);

	clamp = 1000000;
	s = body_carries(&car, &clamp);
	assert_int_equal(s->rest, NOD_REST_MISSING);
	assert_int_equal(s->rest_low_ua, 980000 - s->sum_high_ua);
	nod_fuse_survey_free(s);

	clamp = -300000; /* the clamp the other way round */
	s = body_carries(&car, &clamp);
	assert_int_equal(s->rest, NOD_REST_EXCEEDED);
	nod_fuse_survey_free(s);
}

static void test_a_later_reading_replaces_an_earlier_one(void **state)
{
	(void)state;
	struct car car;
	struct nod_fuse_reading r[] = {reading(0, 1000), reading(1, 0), reading(0, 0)};

	car_init(&car);
	struct nod_fuse_survey *s = nod_fuse_survey_make(&car.vehicle, r, 3, NULL, 0, NULL);
	assert_non_null(s);
	assert_int_equal(s->line_count, 2);
	assert_int_equal(s->carrying, 0);
	assert_int_equal(s->unmeasured_count, 6);
	assert_int_equal(s->unmeasured[0], 2);
	nod_fuse_survey_free(s);
}

static void test_fuses_outside_the_map_and_without_a_value(void **state)
{
	(void)state;
	struct car car;
	struct nod_fuse_reading r[] = {
		{.name = "mini:15A",
		 .fuse = NOD_NONE,
		 .family = "mini",
		 .rating_ma = 15000,
		 .uv = 1000,
		 .uncertainty_uv = 100},
		{.name = "X1", .fuse = NOD_NONE, .uv = 500, .uncertainty_uv = 100},
	};

	car_init(&car);
	struct nod_fuse_survey *s = nod_fuse_survey_make(&car.vehicle, r, 2, NULL, 0, NULL);
	assert_non_null(s);
	assert_int_equal(s->known, 1);
	assert_int_equal(s->lines[0].current.ua, 218341);
	assert_false(s->lines[1].known);
	assert_non_null(strstr(s->lines[1].refusal, "X1: its family and rating are not known"));
	assert_int_equal(s->common_count, 0);
	nod_fuse_survey_free(s);
}

static void test_nonsense_is_refused(void **state)
{
	(void)state;
	struct car car;
	struct nod_error err = {""};
	struct nod_fuse_reading r = reading(0, 0);
	int64_t clamp = INT64_MIN;

	car_init(&car);
	assert_null(nod_fuse_survey_make(&car.vehicle, &r, 0, NULL, 0, &err));
	assert_int_equal(errno, EINVAL);
	assert_null(nod_fuse_survey_make(&car.vehicle, &r, 1, &clamp, 0, &err));
	r.fuse = 8;
	assert_null(nod_fuse_survey_make(&car.vehicle, &r, 1, NULL, 0, &err));
	nod_fuse_survey_free(NULL);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_lines_carry_modules_and_come_largest_first),
		cmocka_unit_test(test_what_they_share_comes_with_its_exact_chance),
		cmocka_unit_test(test_the_clamp_is_compared_as_an_interval),
		cmocka_unit_test(test_a_later_reading_replaces_an_earlier_one),
		cmocka_unit_test(test_fuses_outside_the_map_and_without_a_value),
		cmocka_unit_test(test_nonsense_is_refused),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
