/* What no single line of a vehicle file can get wrong: claims that collide.
 * Internal to the loader. */
#ifndef NOD_VEHICLE_CHECK_H
#define NOD_VEHICLE_CHECK_H

#include "error.h"
#include "vehicle.h"

/* Finds the first collision: an interface of two networks, an ID, node or
 * source address that two modules claim on a network they share. 0, or
 * -EINVAL with the place of the later claim and the line of the earlier. */
int nod_vehicle_check(const struct nod_vehicle *vehicle, const char *name, struct nod_error *err);

/* An ID that both rules fit: true and *id when there is one. Exact. */
bool nod_id_rules_overlap(const struct nod_id_rule *a, const struct nod_id_rule *b, uint32_t *id);

#endif
