/* SPDX-License-Identifier: MIT */
/* The vehicle file of the car's user. */
#ifndef SIM_MAP_H
#define SIM_MAP_H

#include "sim.h"

/* YAML text as lib/vehicle.h documents it, with the holes and the wrong entry
 * of sim->map. Freed by the caller; NULL when memory ran out. */
char *sim_map_write(const struct sim *sim);

#endif
