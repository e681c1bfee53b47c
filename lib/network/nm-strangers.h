/* SPDX-License-Identifier: MIT */
/* Messages that are no node's, although their IDs lie among those that the vehicle file gives to
 * network management: makers use what is left of the block for others. Internal to the engine.
 *
 * By the published layouts: a module has one node on a network; the source node identifier of an
 * AUTOSAR NM PDU is a configured constant; an OSEK NM message always has an operation code, a ring
 * message names a node of the ring, and an alive message names its sender. */
#ifndef NOD_NM_STRANGERS_H
#define NOD_NM_STRANGERS_H

#include "track.h"

/* Whether the message, a node's so far, has turned out to be none: asked after each frame that was
 * taken as a node's. Notes whether the node that it names is one. */
bool nod_nm_is_stranger(const struct nod_track *track, struct nod_ident *ident);

#endif
