/* SPDX-License-Identifier: MIT */
/* The situations that readings at CAN pins can come from, as tables: see
 * pins-tables.c. Used by pins.c only. */
#ifndef NOD_PINS_TABLES_H
#define NOD_PINS_TABLES_H

#include "pins.h"

/* Voltages as predicates want them. */
struct nod_pins_volts {
	int64_t high, low, difference; /* CANH, CANL, CANH - CANL */
	int64_t off;                   /* uncertainty of one reading */
	int64_t off_difference;
	int64_t battery;               /* or NOD_NOT_MEASURED */
	struct nod_ppm_range dominant; /* on the layer judged */
};

struct nod_pins_rule {
	enum nod_pins_state state;
	bool fault;
	bool (*fits)(const struct nod_pins_volts *v);
	const char *text;
};

/* The first rule that fits, the last of each table fits always. */
const struct nod_pins_rule *nod_pins_rule_of_volts(enum nod_physical_layer layer,
						   const struct nod_pins_volts *v);

struct nod_pins_band {
	int64_t below_mohm; /* up to, not including */
	enum nod_pins_state state;
	bool fault;
	const char *text;
};

const struct nod_pins_band *nod_pins_band_of_ohms(enum nod_pins_layer layer, int64_t uohm);

/* What to measure next in a state, NULL when nothing. */
const char *nod_pins_next(enum nod_pins_state state);

#endif
