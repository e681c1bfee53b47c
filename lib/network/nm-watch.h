/* SPDX-License-Identifier: MIT */
/* What each network-management node of a network says, tallied by phase.
 * Internal to the engine. */
#ifndef NOD_NM_WATCH_H
#define NOD_NM_WATCH_H

#include "frame.h"
#include "ident.h"
#include "vehicle.h"

/* True when the ID belongs to the NM PDUs of the layout. */
static inline bool nod_nm_is_pdu(const struct nod_nm_layout *layout, uint32_t id)
{
	return id >= layout->first_id && id <= layout->last_id && layout->last_id &&
	       (layout->scheme == NOD_NM_AUTOSAR || layout->scheme == NOD_NM_OSEK);
}

/* PDUs this soon after a node's first in an awake span count as its burst: the five to ten
 * immediate messages 20 ms apart of published AUTOSAR sets, while no usual cycle there is
 * shorter than 200 ms. */
#define NOD_NM_EARLY_NS (350 * NOD_NS_PER_MS)

/* Takes a NM PDU: makes ident->node when it is the first, and tallies what it
 * says. span is the serial of the awake span. Returns 0 or -ENOMEM. */
int nod_nm_watch_take(struct nod_ident *ident, const struct nod_frame *frame,
		      const struct nod_nm_layout *layout, enum nod_phase phase, uint32_t span);

/* AUTOSAR: it says that it coordinates several networks: it has told that they are ready to
 * sleep, or always gives a coordinator's id (release 3.2). It asks for its network because
 * somebody else asks for one of them. */
bool nod_nm_watch_coordinates(const struct nod_node *node);

/* Makes ident->node of a message that turned out to be a node's only now, with what its
 * record still says: every AUTOSAR PDU was a request. Returns 0 or -ENOMEM. */
int nod_nm_watch_recall(struct nod_ident *ident, const struct nod_nm_layout *layout, int address);

#endif
