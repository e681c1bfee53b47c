/* SPDX-License-Identifier: MIT */
/* Finds the module that sends an ID without looking at every module: the IDs
 * of each network as one sorted table. Internal; nod_vehicle_index() builds
 * it. */
#ifndef NOD_VEHICLE_INDEX_H
#define NOD_VEHICLE_INDEX_H

#include "vehicle.h"

/* The first module that claims `id` on `network` (or on any, NOD_NONE) by its
 * IDs, NOD_NONE when there is none. */
int nod_vehicle_index_find(const struct nod_vehicle_index *index, int network, uint32_t id);

/* The same by NM node address and by J1939 source address; 0..255, on a
 * network of the vehicle. */
int nod_vehicle_index_node(const struct nod_vehicle_index *index, int network, int node);
int nod_vehicle_index_address(const struct nod_vehicle_index *index, int network, int address);

/* The message of an ID, as nod_vehicle_message_of_id(). */
int nod_vehicle_index_message(const struct nod_vehicle_index *index,
			      const struct nod_vehicle *vehicle, int network, uint32_t id);

void nod_vehicle_index_free(struct nod_vehicle_index *index);

#endif
