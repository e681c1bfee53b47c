/* SPDX-License-Identifier: MIT */
/* Senders as far as they can be told: the modules of the vehicle file, the
 * J1939 source addresses, network-management nodes and single IDs that no
 * module claims, and the tester. What suspicion falls on. */
#ifndef NOD_SENDER_H
#define NOD_SENDER_H

#include <stddef.h>
#include <stdint.h>

#include "arena.h"
#include "findings.h"
#include "vehicle.h"

struct nod_sender {
	enum nod_sender_kind kind;
	int module;      /* index into the vehicle's modules, NOD_NONE */
	int network;     /* where it was heard; nodes of two networks are two senders */
	uint32_t number; /* source address, or ID, by kind */
};

bool nod_sender_same(const struct nod_sender *a, const struct nod_sender *b);

/* Writes the name of a sender for people: "roof unit", "source address 21h",
 * "ID 512 (network management)", "ID 2A0 (not in the map)", "ID 418 (TailgateStatus of FOO or BAR)",
 * "a diagnostic tester".
 * In memory of the arena. */
const char *nod_sender_name(struct nod_arena *arena, const struct nod_sender *sender,
			    const struct nod_vehicle *vehicle);

#endif
