/* SPDX-License-Identifier: MIT */
/* What a plain multimeter reads at the pins of a CAN network, interpreted.
 *
 * Volts of each wire to ground and ohms across the pair go in; findings come
 * out as sentences with their reason, and what to measure next. The same
 * voltage is sleep on one kind of network and a fault on another, so a reading
 * whose physical layer is not known is judged for both. Pure but for the
 * memory of the result. */
#ifndef NOD_PINS_H
#define NOD_PINS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "arena.h"
#include "error.h"
#include "bus-levels.h"

#define NOD_NOT_MEASURED INT64_MIN

enum nod_pins_layer { NOD_PINS_ANY_LAYER, NOD_PINS_HIGH_SPEED, NOD_PINS_FAULT_TOLERANT };

/* How the ohms were measured. */
enum nod_pins_power { NOD_PINS_POWER_UNKNOWN, NOD_PINS_LIVE, NOD_PINS_UNPOWERED };

struct nod_pins_input {
	enum nod_pins_layer layer;
	int64_t canh_uv, canl_uv; /* to ground, or NOD_NOT_MEASURED */
	int64_t count_uv;         /* value of the meter's last digit in volts, >= 0 */
	int64_t ohms_uohm;        /* across the pair, or NOD_NOT_MEASURED */
	enum nod_pins_power power;
	int64_t battery_uv;   /* or NOD_NOT_MEASURED */
	int64_t load_ppm;     /* bus load of a recording, or NOD_NOT_MEASURED ... */
	int64_t dominant_ppm; /* ... or its fraction of time dominant, which is better */
};

enum nod_pins_state {
	NOD_PINS_ASLEEP,
	NOD_PINS_QUIET,            /* awake, traffic below what the meter can tell */
	NOD_PINS_BUSY,             /* awake with traffic */
	NOD_PINS_HELD,             /* dominant for longer than traffic is */
	NOD_PINS_BETWEEN,          /* between asleep and awake */
	NOD_PINS_TERMINATED,       /* two terminators */
	NOD_PINS_ONE_TERMINATOR,   /* one missing */
	NOD_PINS_EXTRA_TERMINATOR, /* one too many */
	NOD_PINS_ODD_RESISTANCE,   /* no whole number of terminators */
	NOD_PINS_OPEN,             /* a wire does not reach the network */
	NOD_PINS_TO_GROUND,        /* shorted to ground */
	NOD_PINS_TO_BATTERY,       /* shorted to battery or another supply */
	NOD_PINS_TOGETHER,         /* the wires are shorted to each other */
	NOD_PINS_SWAPPED,
	NOD_PINS_UNTRUSTED,     /* the reading says nothing */
	NOD_PINS_CONTRADICTORY, /* fits nothing, or not with another reading */
	NOD_PINS_AGREES,        /* fits the recording */
	NOD_PINS_STATES
};

struct nod_pins_finding {
	enum nod_pins_state state;
	enum nod_pins_layer layer; /* the layer it is true for; any: does not depend on it */
	bool fault;                /* something to repair if it is true */
	const char *text;          /* sentences for a person, the reason included */
};

#define NOD_PINS_MOST 8

struct nod_pins {
	struct nod_pins_finding findings[NOD_PINS_MOST]; /* what is no fault first */
	size_t finding_count;
	const char *next[NOD_PINS_MOST]; /* what to measure next, in order */
	size_t next_count;
	bool dominant_known; /* awake on the layer given: the two ranges are valid */
	struct nod_ppm_range dominant, load;
	bool predicted_known;           /* a recording was given */
	struct nod_ppm_range predicted; /* fraction of time dominant */
	struct nod_arena arena;
};

/* Largest values taken; a 24 V truck and a meter's overload are within. */
#define NOD_PINS_LARGEST_UV 100000000
#define NOD_PINS_LARGEST_UOHM INT64_C(100000000000000)

/* Interprets the readings. NULL with errno EINVAL and err when there is no
 * reading at all or one is out of range, or ENOMEM. */
struct nod_pins *nod_pins_judge(const struct nod_pins_input *input, struct nod_error *err);

void nod_pins_free(struct nod_pins *pins);

/* "asleep", "awake-quiet", ...; stable, for JSON. */
const char *nod_pins_state_name(enum nod_pins_state state);

/* "any", "high-speed", "fault-tolerant". */
const char *nod_pins_layer_name(enum nod_pins_layer layer);

#endif
