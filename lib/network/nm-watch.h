/* SPDX-License-Identifier: MIT */
/* What each network-management node of a network says, tallied by phase.
 * Internal to the engine. */
#ifndef NOD_NM_WATCH_H
#define NOD_NM_WATCH_H

#include "frame.h"
#include "ident.h"
#include "nm-scheme.h"
#include "vehicle.h"

/* True when the ID belongs to the NM PDUs of the layout. */
static inline bool nod_nm_is_pdu(const struct nod_nm_layout *layout, uint32_t id)
{
	return id >= layout->first_id && id <= layout->last_id && layout->last_id &&
	       nod_nm_scheme_row(layout->scheme)->has_messages;
}

/* PDUs this soon after a node's first in an awake span count as its burst: the five to ten
 * immediate messages 20 ms apart of published AUTOSAR sets, while no usual cycle there is
 * shorter than 200 ms. */
#define NOD_NM_EARLY_NS (350 * NOD_NS_PER_MS)

struct nod_nm_message {
	struct nod_ident *ident;
	const struct nod_frame *frame;
	const struct nod_nm_layout *layout;
	enum nod_phase phase;
	uint32_t span; /* the serial of the awake span */
};

/* The record of who sent it, made when it is the first, with its span begun; NULL: out of
 * memory. */
struct nod_node *nod_nm_watch_node(const struct nod_nm_message *message);

/* It asks for the network. */
void nod_nm_watch_request(struct nod_node *node, const struct nod_nm_message *message);

/* Takes a NM PDU: makes ident->node when it is the first, and tallies what it
 * says. span is the serial of the awake span. Returns 0 or -ENOMEM. */
int nod_nm_watch_take(struct nod_ident *ident, const struct nod_frame *frame,
		      const struct nod_nm_layout *layout, enum nod_phase phase, uint32_t span);

/* What it said was no node's: none of it is kept. */
void nod_nm_watch_forget(struct nod_ident *ident);

/* AUTOSAR: it says that it coordinates several networks: it has told that they are ready to
 * sleep, or always gives a coordinator's id (release 3.2). It asks for its network because
 * somebody else asks for one of them. */
bool nod_nm_watch_coordinates(const struct nod_node *node);

/* Makes ident->node of a message that turned out to be a node's only now, with what its
 * record still says (a request each, where a scheme has nothing else). Returns 0 or -ENOMEM. */
int nod_nm_watch_recall(struct nod_ident *ident, const struct nod_nm_layout *layout, int address);

#endif
