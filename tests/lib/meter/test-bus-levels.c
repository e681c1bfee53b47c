/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "bus-levels.h"

/* Whole frames with their stuff bits, calculated bit by bit: total and
 * dominant bits (one acknowledge bit included), frames a second, bit/s. */
static const struct traffic {
	int bits, dominant, per_second, bitrate;
	int64_t load_ppm, f_ppm; /* as calculated, to 0.01 % and 0.0001 */
	int64_t canh_uv, canl_uv;
} traffic[] = {
	{112, 61, 100, 500000, 22400, 12200, 2512200, 2487800}, /* 123#1122334455667788 */
	{112, 61, 1000, 500000, 224000, 122000, 2622000, 2378000},
	{127, 91, 100, 125000, 101600, 72800, 2572800, 2427200}, /* 000#0000000000000000 */
	{124, 45, 50, 500000, 12400, 4500, 2504500, 2495500},    /* 510#1011FFFFFFFFFFFF */
	{147, 96, 100, 250000, 58800, 38400, 2538400, 2461600},  /* 18FEF100#0000000000000000 */
};

#define TRAFFIC (sizeof(traffic) / sizeof(traffic[0]))

static void test_mean_levels_of_calculated_traffic(void **state)
{
	(void)state;
	for (size_t i = 0; i < TRAFFIC; i++) {
		const struct traffic *t = &traffic[i];
		int64_t f = (int64_t)t->dominant * t->per_second * 1000000 / t->bitrate;
		assert_int_equal(f, t->f_ppm);
		assert_int_equal(nod_levels_mean_canh_uv(f), t->canh_uv);
		assert_int_equal(nod_levels_mean_canl_uv(f), t->canl_uv);
	}
}

static void test_the_fraction_comes_back_from_the_levels(void **state)
{
	(void)state;
	for (size_t i = 0; i < TRAFFIC; i++) {
		const struct traffic *t = &traffic[i];
		struct nod_ppm_range f = nod_levels_dominant(NOD_LAYER_HIGH_SPEED, t->canh_uv,
							     t->canl_uv, 0);
		assert_int_equal(f.nominal, t->f_ppm);
		assert_true(f.low <= t->f_ppm && f.high >= t->f_ppm);
		struct nod_ppm_range load = nod_levels_load(f);
		assert_true(load.low <= t->load_ppm && load.high >= t->load_ppm);
	}
}

static void test_the_dominant_shares_are_those_of_the_frames(void **state)
{
	(void)state;
	int64_t least = 1000000, most = 0;

	for (size_t i = 0; i < TRAFFIC; i++) {
		int64_t share = (int64_t)traffic[i].dominant * 1000000 / traffic[i].bits;
		least = share < least ? share : least;
		most = share > most ? share : most;
	}
	assert_true(llabs(least - NOD_DOMINANT_SHARE_MIN_PPM) < 5000);
	assert_true(llabs(most - NOD_DOMINANT_SHARE_MAX_PPM) < 5000);
}

static void test_a_meter_cannot_tell_idle_from_one_frame_a_second(void **state)
{
	(void)state;
	/* 123#1122334455667788 once a second at 500 kbit/s: f = 122 ppm. */
	int64_t canh = nod_levels_mean_canh_uv(122), canl = nod_levels_mean_canl_uv(122);
	struct nod_ppm_range f = nod_levels_dominant(NOD_LAYER_HIGH_SPEED, canh, canl, 10000);

	assert_int_equal(f.low, 0);
	/* Four counts of 10 mV over the smallest swing of 1.5 V, and a little. */
	assert_in_range(f.high, 26667, 27000);
}

static void test_a_load_predicts_a_range(void **state)
{
	(void)state;
	struct nod_ppm_range f = nod_levels_dominant_of_load(224000);

	assert_int_equal(f.low, 80640);
	assert_int_equal(f.high, 161280);
	assert_true(f.low <= 122000 && 122000 <= f.high);
	struct nod_ppm_range quiet = {0, 0, 27000};
	assert_false(nod_ppm_ranges_meet(f, quiet));
	assert_true(nod_ppm_ranges_meet(f, f));
}

static void test_fault_tolerant_levels(void **state)
{
	(void)state;
	struct nod_ppm_range f = nod_levels_dominant(NOD_LAYER_FAULT_TOLERANT, 0, NOD_FT_SUPPLY_UV,
						     10000);
	assert_int_equal(f.low, 0);
	assert_int_equal(f.nominal, 0);
	/* A tenth of the time dominant in the middle of the allowed swing. */
	f = nod_levels_dominant(NOD_LAYER_FAULT_TOLERANT, 430000, 4570000, 10000);
	assert_int_equal(f.nominal, 100000);
	assert_true(f.low < 100000 && f.high > 100000);
}

static void test_meter_uncertainty(void **state)
{
	(void)state;
	assert_int_equal(nod_meter_uncertainty_uv(2500000, 10000), 12500 + 20000);
	assert_int_equal(nod_meter_uncertainty_uv(-2500000, 10000), 12500 + 20000);
	assert_int_equal(nod_meter_difference_uncertainty_uv(240000, 10000), 1200 + 40000);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(test_mean_levels_of_calculated_traffic),
		cmocka_unit_test(test_the_fraction_comes_back_from_the_levels),
		cmocka_unit_test(test_the_dominant_shares_are_those_of_the_frames),
		cmocka_unit_test(test_a_meter_cannot_tell_idle_from_one_frame_a_second),
		cmocka_unit_test(test_a_load_predicts_a_range),
		cmocka_unit_test(test_fault_tolerant_levels),
		cmocka_unit_test(test_meter_uncertainty),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
