/* SPDX-License-Identifier: MIT */
/* What no single line of a vehicle file can get wrong: claims that collide.
 * Internal to the loader. */
#ifndef NOD_VEHICLE_CHECK_H
#define NOD_VEHICLE_CHECK_H

#include "error.h"
#include "vehicle.h"

enum nod_claim_kind {
	NOD_CLAIM_INTERFACE, /* a network's */
	NOD_CLAIM_RULE,      /* a module's: an ID, a range or a mask */
	NOD_CLAIM_NODE,
	NOD_CLAIM_ADDRESS,
};

/* That something belongs to a network or module, and where the file says so. */
struct nod_claim {
	enum nod_claim_kind kind;
	int owner;   /* index of the network (interfaces) or module */
	size_t item; /* index in the owner's list */
	unsigned line, column;
};

/* In the order of the file, as far as one kind is concerned. */
struct nod_claims {
	struct nod_claim *items;
	size_t count, room;
};

/* Returns 0 or -ENOMEM. */
int nod_claims_add(struct nod_claims *claims, const struct nod_claim *claim);

/* Masks that are not ranges are compared one by one, so their number is
 * bounded. Chosen: far above any car, and a file of the largest size is still
 * checked within two seconds. */
#define NOD_VEHICLE_MASKS_MAX 300

/* Finds a collision: an interface of two networks; an ID, node or source
 * address that two modules claim on a network they share. Of several, the one
 * whose later claim comes first in the file. 0, -ENOMEM, or -EINVAL with the
 * place of the later claim and the line of the earlier. */
int nod_vehicle_check(const struct nod_vehicle *vehicle, const struct nod_claims *claims,
		      const char *name, struct nod_error *err);

/* True when a module sits on a network (an index); a module without networks
 * may sit on any. */
bool nod_module_sits_on(const struct nod_module *module, int network);

#endif
