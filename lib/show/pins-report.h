/* SPDX-License-Identifier: MIT */
/* Findings at the connector pins, for people and for programs. */
#ifndef NOD_PINS_REPORT_H
#define NOD_PINS_REPORT_H

#include <jansson.h>
#include <stdio.h>

#include "pins.h"

/* The answer first, then the readings, then what to measure next; 80 columns. */
void nod_pins_print(FILE *out, const struct nod_pins_input *input, const struct nod_pins *pins);

/* The same as an object (a new reference), NULL when memory ran out. Voltages
 * in volts, shares as fractions of 1. */
json_t *nod_pins_json(const struct nod_pins_input *input, const struct nod_pins *pins);

#endif
