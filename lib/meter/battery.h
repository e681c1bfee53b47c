/* SPDX-License-Identifier: MIT */
/* How charged a resting 12 V battery is, and how long it lasts.
 *
 * Everything is a range: published tables of rest voltage disagree, meters are
 * off, and the rule for "no start" is a rule of thumb. Pure functions, nothing
 * to free. */
#ifndef NOD_BATTERY_H
#define NOD_BATTERY_H

#include <stdbool.h>
#include <stdint.h>

#include "error.h"
#include "bus-levels.h"

/* Published by a car maker's workshop bulletin: ampere hours at a low rate are
 * reserve minutes (at 25 A) x 0.6 ... */
#define NOD_BATTERY_MAH_PER_RESERVE_MINUTE 600
/* ... and no start is to be expected after about 40 % of them: at 60 % left. For a
 * battery that is not full "reduce accordingly" is taken as: the line stays at
 * 60 % of the full capacity (100 minutes at 90 %: 18.0 Ah, not 21.6). That is
 * the cautious reading, and the one in which a starter needs what it needs. */
#define NOD_BATTERY_NO_START_PPM 600000
/* Largest acceptable drain in mA is reserve minutes / 4 (workshop text of a
 * 2001 car): 100 minutes, 25 mA. */
#define NOD_BATTERY_DRAIN_UA_PER_RESERVE_MINUTE 250
/* 0.024 V per 10 F above or below 80 F (published table): 4.32 mV/C. */
#define NOD_BATTERY_UV_PER_CELSIUS 4320
#define NOD_BATTERY_TABLE_MICROCELSIUS 26666667 /* 80 F */
/* Rest before the voltage means anything: published 4 h at least, better 24 h. */
#define NOD_BATTERY_REST_S (4 * 3600)
/* Recharge below this rest voltage (published trade text of a battery maker). */
#define NOD_BATTERY_RECHARGE_UV 12500000
/* Worst published self-discharge: 4 % a week at 80 F; others say 5 % a month.
 * Only the worst case counts it, and the user may change it. */
#define NOD_BATTERY_SELF_DISCHARGE_PPM_PER_DAY 5714

/* A resting 12 V battery lies between these: above, something charges it or
 * just did (highest published AGM value at rest); below, it is not a 12 V
 * battery or has a dead cell (chosen: one cell of six missing from the lowest
 * table value). */
#define NOD_BATTERY_HIGHEST_UV 13200000
#define NOD_BATTERY_LOWEST_UV 9900000

enum nod_battery_type { NOD_BATTERY_ANY, NOD_BATTERY_FLOODED, NOD_BATTERY_AGM };

#define NOD_BATTERY_UNKNOWN INT64_MIN
#define NOD_BATTERY_NO_LIMIT INT64_MAX

struct nod_battery_input {
	enum nod_battery_type type;
	int64_t rest_uv;                  /* or unknown: a full battery is assumed */
	int64_t rest_uncertainty_uv;      /* either way */
	int64_t temperature_microcelsius; /* of the battery, or unknown */
	int64_t rested_s;                 /* since the last charge or load, or unknown */
	int64_t capacity_uah;             /* rated, or unknown */
	int64_t reserve_s;                /* reserve capacity, or unknown */
	int64_t current_ua;               /* drain, magnitude, or unknown */
	int64_t current_uncertainty_ua;
	int64_t no_start_ppm; /* charge below which it does not start */
	int64_t self_discharge_ppm_per_day;
};

/* A field of three: the worst case, the plain rule, the best case. */
struct nod_battery_range {
	int64_t worst, rule, best;
};

enum nod_battery_drain { NOD_DRAIN_UNKNOWN, NOD_DRAIN_WITHIN, NOD_DRAIN_OVER, NOD_DRAIN_UNDECIDED };

struct nod_battery {
	bool charge_measured;              /* false: a full battery was assumed */
	struct nod_battery_range charge;   /* ppm of full */
	int64_t compensated_uv;            /* rest voltage at 80 F; valid when measured */
	bool capacity_known;               /* the next one is valid */
	struct nod_battery_range capacity; /* uAh when full; two ratings make a range */
	bool time_known;                   /* capacity and current: the next two are valid */
	struct nod_battery_range usable;   /* uAh until it does not start, 0: at or below it now */
	struct nod_battery_range seconds;  /* until it does not start, or NOD_BATTERY_NO_LIMIT */
	int64_t largest_drain_ua;          /* reserve rule, or unknown */
	enum nod_battery_drain drain;      /* the current against it */
	bool rested;                       /* known to have rested long enough */
	bool recharge;                     /* below the published recharge voltage */
};

/* An input with everything unknown and the published rules. */
struct nod_battery_input nod_battery_input_unknown(void);

/* Returns 0, or -EINVAL with err when a value cannot be that of a car's
 * resting battery. */
int nod_battery_judge(struct nod_battery *out, const struct nod_battery_input *in,
		      struct nod_error *err);

/* State of charge in ppm from a rest voltage at 80 F: low and high over the
 * published tables of the type, nominal the table usually quoted (flooded) or
 * the middle. */
struct nod_ppm_range nod_battery_charge(enum nod_battery_type type, int64_t rest_uv);

/* Rest voltage as it would be at 80 F. */
int64_t nod_battery_compensated_uv(int64_t rest_uv, int64_t microcelsius);

/* "any", "flooded", "agm"; and back: 0 or -EINVAL. */
const char *nod_battery_type_name(enum nod_battery_type type);
int nod_battery_type_parse(enum nod_battery_type *type, const char *text);

#endif
