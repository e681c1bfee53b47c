/* SPDX-License-Identifier: MIT */
#include "sender.h"

#include <inttypes.h>

bool nod_sender_same(const struct nod_sender *a, const struct nod_sender *b)
{
	if (a->kind != b->kind)
		return false;
	if (a->kind == NOD_SENDER_TESTER)
		return true;
	if (a->kind == NOD_SENDER_MODULE)
		return a->module == b->module;
	return a->network == b->network && a->number == b->number;
}

/* More would be a list, not a name. Chosen. */
#define SENDERS_NAMED 3

/* "ID 418 (TailgateStatus of FOO or BAR)": a message that no one module has for its own. */
static const char *described(struct nod_arena *arena, const char *id, const struct nod_message *m)
{
	const char *senders = "";

	for (size_t i = 0; i < m->sender_count && i < SENDERS_NAMED; i++)
		senders = nod_arena_printf(arena, "%s%s%s", senders, i ? " or " : " of ",
					   m->senders[i]);
	return nod_arena_printf(arena, "ID %s (%s%s%s)", id, m->name, senders,
				m->sender_count > SENDERS_NAMED ? " or others" : "");
}

static const char *id_name(struct nod_arena *arena, const struct nod_sender *sender,
			   const struct nod_vehicle *vehicle)
{
	int message = nod_vehicle_message_of_id(vehicle, sender->network, sender->number);
	char text[NOD_ID_TEXT];

	nod_id_print(text, sender->number);
	if (message != NOD_NONE)
		return described(arena, text, &vehicle->messages[message]);
	return nod_arena_printf(arena, vehicle->module_count ? "ID %s (not in the map)" : "ID %s",
				text);
}

const char *nod_sender_name(struct nod_arena *arena, const struct nod_sender *sender,
			    const struct nod_vehicle *vehicle)
{
	char id[NOD_ID_TEXT];

	switch (sender->kind) {
	case NOD_SENDER_MODULE:
		return vehicle->modules[sender->module].name;
	case NOD_SENDER_SOURCE_ADDRESS:
		return nod_arena_printf(arena, "source address %02" PRIX32 "h", sender->number);
	case NOD_SENDER_NODE:
		return nod_arena_printf(arena, "ID %s (network management)",
					nod_id_print(id, sender->number));
	case NOD_SENDER_ID:
		return id_name(arena, sender, vehicle);
	case NOD_SENDER_TESTER:
		return "a diagnostic tester";
	}
	return "?";
}
