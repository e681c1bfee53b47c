/* SPDX-License-Identifier: MIT */
/* A vehicle file in a few lines, for the person who wrote it: what nodoff
 * understood, and what is worth a second look. */
#ifndef NOD_VEHICLE_REPORT_H
#define NOD_VEHICLE_REPORT_H

#include <stdio.h>

#include "vehicle.h"

/* Fits 80 columns (names of up to 24 columns stand in the table, longer ones
 * on a line of their own). */
int nod_vehicle_report(const struct nod_vehicle *vehicle, FILE *out);

#endif
