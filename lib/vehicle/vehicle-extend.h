/* SPDX-License-Identifier: MIT */
/* Adding to a vehicle file that a person wrote: what stands in it stays as it is written,
 * remarks and order included; new lines come behind. */
#ifndef NOD_VEHICLE_EXTEND_H
#define NOD_VEHICLE_EXTEND_H

#include "vehicle.h"

struct nod_extension {
	unsigned networks, modules, ids, messages; /* added; ids: to modules that were there */
	unsigned known;                            /* messages whose ID was described already */
	unsigned claimed; /* IDs that another module claims already: left out */
};

/* The text of a vehicle file with the networks, modules and messages of `more` that it lacks. A
 * module of the same name gets the IDs that nobody claims; a message whose ID is there on the
 * network is left alone. The caller frees it; NULL with errno and err set, when the text
 * cannot be read, or is written in a way to which nothing can be added (err says where). */
char *nod_vehicle_extend(const char *text, size_t length, const char *name,
			 const struct nod_vehicle *more, struct nod_extension *done,
			 struct nod_error *err);

#endif
