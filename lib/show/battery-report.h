/* SPDX-License-Identifier: MIT */
/* What a battery has left, for people and for programs. */
#ifndef NOD_BATTERY_REPORT_H
#define NOD_BATTERY_REPORT_H

#include <jansson.h>
#include <stdio.h>

#include "battery.h"

/* The answer first, then the numbers, then what they rest on; 80 columns. */
void nod_battery_print(FILE *out, const struct nod_battery_input *input,
		       const struct nod_battery *battery);

/* The same as an object (a new reference), NULL when memory ran out. Days,
 * volts, ampere hours, milliamps, shares as fractions of 1. */
json_t *nod_battery_json(const struct nod_battery_input *input, const struct nod_battery *battery);

#endif
