/* SPDX-License-Identifier: MIT */
/* What a DC voltmeter shows on the two wires of a CAN network.
 *
 * A meter averages. While a network is awake its wires rest at the recessive
 * level and move to the dominant one for a fraction f of the time, so that, at
 * nominal high speed levels, mean CANH = 2.5 V + f x 1.0 V and mean CANL =
 * 2.5 V - f x 1.0 V (plain averaging). Fractions and loads are parts per
 * million, voltages microvolts to ground. Pure functions. */
#ifndef NOD_LEVELS_H
#define NOD_LEVELS_H

#include <stdbool.h>
#include <stdint.h>

#include "vehicle.h"

/* High speed, transceiver data sheets (TCAN1146-Q1 SLLSF80B, TCAN1044-Q1
 * SLLSF17B, TCAN1043A-Q1 SLLSFD1E): */
#define NOD_HS_RECESSIVE_MIN_UV 2000000
#define NOD_HS_RECESSIVE_UV 2500000 /* nominal, half the 5 V supply */
#define NOD_HS_RECESSIVE_MAX_UV 3000000
#define NOD_HS_CANH_DOMINANT_MAX_UV 4500000
#define NOD_HS_CANL_DOMINANT_MIN_UV 500000
#define NOD_HS_DIFFERENTIAL_MIN_UV 1500000 /* dominant, 50-65 ohm */
#define NOD_HS_DIFFERENTIAL_UV 2000000     /* nominal: 3.5 V - 1.5 V */
#define NOD_HS_DIFFERENTIAL_MAX_UV 3000000
#define NOD_HS_ASLEEP_MAX_UV 100000 /* either way, biasing off */

/* Fault tolerant (data sheets MC33389, MAX3055, TJA1055), with the 5 V supply
 * of the transceivers: */
#define NOD_FT_SUPPLY_UV 5000000
#define NOD_FT_SUPPLY_SPREAD_UV 250000 /* +-5 %, from memory */
#define NOD_FT_RECESSIVE_UV 200000     /* CANH at most this, CANL at most this below supply */
#define NOD_FT_SWING_MIN_UV 3600000    /* dominant: supply - 1.4 V and 1.4 V */
#define NOD_FT_SWING_UV 4300000        /* middle of the two bounds */
#define NOD_FT_SWING_MAX_UV 5000000

/* The dominant share of the bits on the wire while a frame passes. Calculated
 * from whole frames (tests/lib/meter/test-levels.c): 36 % with a payload of ones,
 * 72 % with one of zeros. */
#define NOD_DOMINANT_SHARE_MIN_PPM 360000
#define NOD_DOMINANT_SHARE_MAX_PPM 720000

/* A usual hand meter on its 20 V range: +-(0.5 % + 2 counts). From memory. */
#define NOD_METER_GAIN_PPM 5000
#define NOD_METER_COUNTS 2

struct nod_ppm_range {
	int64_t low, nominal, high; /* parts per million, 0 .. 1000000 */
};

/* How far a reading may be off, either way; `count_uv` is the value of the
 * meter's last digit. */
int64_t nod_meter_uncertainty_uv(int64_t reading_uv, int64_t count_uv);

/* How far the difference of two readings of one meter may be off: the gain
 * error is common to both. */
int64_t nod_meter_difference_uncertainty_uv(int64_t difference_uv, int64_t count_uv);

/* Mean level of a high speed wire, dominant a fraction of the time, at nominal levels. */
int64_t nod_levels_mean_canh_uv(int64_t dominant_ppm);
int64_t nod_levels_mean_canl_uv(int64_t dominant_ppm);

/* Fraction of time dominant from the readings of both wires. Nominal at
 * nominal levels, low and high over the levels that the data sheets allow and
 * the meter's uncertainty. */
struct nod_ppm_range nod_levels_dominant(enum nod_physical_layer layer, int64_t canh_uv,
					 int64_t canl_uv, int64_t count_uv);

/* Bus load that goes with a fraction of time dominant, and the other way. */
struct nod_ppm_range nod_levels_load(struct nod_ppm_range dominant);
struct nod_ppm_range nod_levels_dominant_of_load(int64_t load_ppm);

/* True when two ranges have a value in common. */
bool nod_ppm_ranges_meet(struct nod_ppm_range a, struct nod_ppm_range b);

#endif
