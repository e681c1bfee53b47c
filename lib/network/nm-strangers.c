/* SPDX-License-Identifier: MIT */
#include "nm-strangers.h"

/* What one says is looked at again after so many messages. Chosen. */
#define LOOKED_AT_EVERY 16

/* So many that name nobody, before anybody was named, are no ring's. Chosen: a node that is named
 * is heard within a round or two. */
#define UNNAMED_MOST 12

/* A source node identifier that has changed so often is none. Chosen: more than by a layout that
 * the file states wrongly, whose control bits change with each wake-up. */
#define CHANGES_MOST 12

/* Of its frames, at most one in so many is no network-management message. Chosen. */
#define UNFIT_ONE_IN 20

/* So many nodes that have the same ID for number 0 show that all do. Chosen. */
#define ALIKE_LEAST 3

static const struct nod_node *node_at(const struct nod_track *track, int number)
{
	const struct nod_ident *ident = nod_idents_find(&track->idents,
							track->nm.first_id + (uint32_t)number);

	return ident && ident->node && ident->node->address == number ? ident->node : NULL;
}

/* By the map the message is a module's whose node is heard under another ID. */
static bool has_another(const struct nod_track *track, const struct nod_ident *ident)
{
	int index = nod_vehicle_module_of_id(track->vehicle, track->network, ident->id);
	bool another = false;

	if (index == NOD_NONE)
		return false;
	const struct nod_module *module = &track->vehicle->modules[index];
	for (size_t i = 0; i < module->node_count; i++) {
		if (module->nodes[i] == ident->node->address)
			return false;
		another |= node_at(track, module->nodes[i]) != NULL;
	}
	return another;
}

static uint32_t base_of(const struct nod_ident *ident)
{
	return ident->id - (uint32_t)ident->node->address;
}

/* The others' IDs are a base and the number that they carry, this one's is not: it would be the
 * only node that is numbered otherwise. */
static bool is_misnumbered(const struct nod_track *track, const struct nod_ident *ident)
{
	unsigned nodes = 0, alike = 0, as_this = 0, votes = 0;
	uint32_t base = 0;

	for (uint32_t i = 0; i < track->idents.count; i++) { /* the base that more than half have */
		const struct nod_ident *other = &track->idents.items[i];
		if (!other->node)
			continue;
		base = votes ? base : base_of(other);
		votes = base == base_of(other) ? votes + 1 : votes - 1;
	}
	for (uint32_t i = 0; i < track->idents.count; i++) {
		const struct nod_ident *other = &track->idents.items[i];
		nodes += other->node != NULL;
		alike += other->node && base_of(other) == base;
		as_this += other->node && base_of(other) == base_of(ident);
	}
	return base != base_of(ident) && as_this == 1 && alike >= ALIKE_LEAST && 2 * alike > nodes;
}

/* Not every frame of it is one of network management. */
static bool is_unfit(const struct nod_ident *ident)
{
	uint64_t fit = 0, frames = nod_ident_frames(ident);

	for (int p = 0; p < NOD_PHASES; p++)
		fit += ident->node->pdus[p];
	return (frames - fit) * UNFIT_ONE_IN > frames;
}

bool nod_nm_is_stranger(const struct nod_track *track, struct nod_ident *ident)
{
	struct nod_node *node = ident->node;

	if (has_another(track, ident))
		return true;
	node->named |= node->naming && node_at(track, node->names);
	if (nod_ident_frames(ident) % LOOKED_AT_EVERY)
		return false;
	return node->changes > CHANGES_MOST || (!node->named && node->naming > UNNAMED_MOST) ||
	       is_unfit(ident) || (track->nm.node_byte >= 0 && is_misnumbered(track, ident));
}
