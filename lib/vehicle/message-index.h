/* SPDX-License-Identifier: MIT */
/* Finds the message of an ID. Internal; nod_vehicle_index() builds it. */
#ifndef NOD_MESSAGE_INDEX_H
#define NOD_MESSAGE_INDEX_H

#include "vehicle.h"

struct nod_message_index;

/* NULL: out of memory. */
struct nod_message_index *nod_message_index_new(const struct nod_vehicle *vehicle);
void nod_message_index_free(struct nod_message_index *index);

/* As nod_vehicle_message_of_id(). */
int nod_message_index_find(const struct nod_message_index *index, const struct nod_vehicle *vehicle,
			   int network, uint32_t id);

/* Two messages that state the same ID for a network they share: 0, or -EINVAL with a
 * message that names the later one's line; -ENOMEM. */
int nod_messages_check(const struct nod_vehicle *vehicle, const char *name, struct nod_error *err);

#endif
