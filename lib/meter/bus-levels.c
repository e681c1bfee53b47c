/* SPDX-License-Identifier: MIT */
#include "bus-levels.h"

#include <stdlib.h>

#define MILLION INT64_C(1000000)

static int64_t limited(int64_t ppm)
{
	return ppm < 0 ? 0 : ppm > MILLION ? MILLION : ppm;
}

/* a/b in parts per million, to nearest. Voltages are bounded by the callers. */
static int64_t ratio(int64_t a, int64_t b)
{
	return limited((a * MILLION + b / 2) / b);
}

int64_t nod_meter_uncertainty_uv(int64_t reading_uv, int64_t count_uv)
{
	return llabs(reading_uv) * NOD_METER_GAIN_PPM / MILLION + NOD_METER_COUNTS * count_uv;
}

int64_t nod_meter_difference_uncertainty_uv(int64_t difference_uv, int64_t count_uv)
{
	return nod_meter_uncertainty_uv(difference_uv, 2 * count_uv);
}

/* f x (dominant - recessive) is f x 1.0 V: microvolts equal parts per million. */
int64_t nod_levels_mean_canh_uv(int64_t dominant_ppm)
{
	return NOD_HS_RECESSIVE_UV + dominant_ppm * (NOD_HS_DIFFERENTIAL_UV / 2) / MILLION;
}

int64_t nod_levels_mean_canl_uv(int64_t dominant_ppm)
{
	return NOD_HS_RECESSIVE_UV - dominant_ppm * (NOD_HS_DIFFERENTIAL_UV / 2) / MILLION;
}

static struct nod_ppm_range high_speed(int64_t difference, int64_t off)
{
	return (struct nod_ppm_range){
		.low = ratio(difference - off, NOD_HS_DIFFERENTIAL_MAX_UV),
		.nominal = ratio(difference, NOD_HS_DIFFERENTIAL_UV),
		.high = ratio(difference + off, NOD_HS_DIFFERENTIAL_MIN_UV),
	};
}

static struct nod_ppm_range fault_tolerant(int64_t moved, int64_t off)
{
	int64_t supply = NOD_FT_SUPPLY_SPREAD_UV / 2; /* it moves CANL only */

	return (struct nod_ppm_range){
		.low = ratio(moved - off - NOD_FT_RECESSIVE_UV - supply, NOD_FT_SWING_MAX_UV),
		.nominal = ratio(moved, NOD_FT_SWING_UV),
		.high = ratio(moved + off + supply, NOD_FT_SWING_MIN_UV),
	};
}

struct nod_ppm_range nod_levels_dominant(enum nod_physical_layer layer, int64_t canh_uv,
					 int64_t canl_uv, int64_t count_uv)
{
	int64_t difference = canh_uv - canl_uv;

	if (layer == NOD_LAYER_HIGH_SPEED)
		return high_speed(difference,
				  nod_meter_difference_uncertainty_uv(difference, count_uv));
	/* CANH rises from 0 V and CANL falls from the supply: the mean of both movements. */
	return fault_tolerant((difference + NOD_FT_SUPPLY_UV) / 2,
			      nod_meter_uncertainty_uv(canl_uv, count_uv));
}

struct nod_ppm_range nod_levels_load(struct nod_ppm_range dominant)
{
	int64_t middle = (NOD_DOMINANT_SHARE_MIN_PPM + NOD_DOMINANT_SHARE_MAX_PPM) / 2;

	return (struct nod_ppm_range){
		.low = ratio(dominant.low, NOD_DOMINANT_SHARE_MAX_PPM),
		.nominal = ratio(dominant.nominal, middle),
		.high = ratio(dominant.high, NOD_DOMINANT_SHARE_MIN_PPM),
	};
}

struct nod_ppm_range nod_levels_dominant_of_load(int64_t load_ppm)
{
	load_ppm = limited(load_ppm);
	int64_t low = load_ppm * NOD_DOMINANT_SHARE_MIN_PPM / MILLION;
	int64_t high = load_ppm * NOD_DOMINANT_SHARE_MAX_PPM / MILLION;

	return (struct nod_ppm_range){low, (low + high) / 2, high};
}

bool nod_ppm_ranges_meet(struct nod_ppm_range a, struct nod_ppm_range b)
{
	return a.low <= b.high && b.low <= a.high;
}
