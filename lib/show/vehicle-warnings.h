/* SPDX-License-Identifier: MIT */
/* What is allowed in a vehicle file but probably not meant, or missing where
 * nodoff could do more with it. */
#ifndef NOD_VEHICLE_WARNINGS_H
#define NOD_VEHICLE_WARNINGS_H

#include "vehicle.h"

/* `line` is where the thing stands in the file, 0 for the file as a whole.
 * `text` is a sentence without its full stop and lives during the call. */
typedef void nod_vehicle_warning(void *context, unsigned line, const char *text);

/* Calls take(context, ...) for each warning, networks first, then fuses, then
 * modules. */
void nod_vehicle_warn(const struct nod_vehicle *vehicle, nod_vehicle_warning *take, void *context);

#endif
