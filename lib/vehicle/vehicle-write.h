/* SPDX-License-Identifier: MIT */
/* Parts of a vehicle file as text. Internal. */
#ifndef NOD_VEHICLE_WRITE_H
#define NOD_VEHICLE_WRITE_H

#include <stdio.h>

#include "vehicle.h"

/* One object under `networks:` or `modules:`. */
void nod_vehicle_write_network(FILE *out, const struct nod_network *network);
void nod_vehicle_write_module(FILE *out, const struct nod_vehicle *vehicle,
			      const struct nod_module *module);

#endif
