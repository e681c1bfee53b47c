/* SPDX-License-Identifier: MIT */
/* OSEK/VDX direct network management: what one message says.
 *
 * The nodes form a logical ring: each passes the ring message to its
 * successor. A node that is ready to sleep sets the sleep indication; one that
 * sends ring or limp-home messages without it keeps the network awake. When all
 * indicate, one acknowledges, and after a wait the network sleeps; a message
 * without indication during that wait cancels it.
 *
 * Byte 0 is the destination (the logical successor; the node itself in an
 * alive message), byte 1 the operation code, bytes 2 to 7 ring data. The
 * standard leaves the bit coding of the operation code to the implementer (from
 * memory); the layout has it. */
#ifndef NOD_OSEK_NM_H
#define NOD_OSEK_NM_H

#include <stdbool.h>
#include <stdint.h>

#include "frame.h"
#include "vehicle.h"

/* The coding two open implementations share, and the default of a layout. */
enum {
	NOD_OSEK_NM_ALIVE = 0x01,
	NOD_OSEK_NM_RING = 0x02,
	NOD_OSEK_NM_LIMP_HOME = 0x04,
	NOD_OSEK_NM_SLEEP_INDICATION = 0x10,
	NOD_OSEK_NM_SLEEP_ACKNOWLEDGE = 0x20
};

struct nod_osek_nm {
	int source;      /* node number: ID minus the first ID of the layout */
	int destination; /* byte 0 as sent */
	uint8_t opcode;  /* byte 1 as sent */
	bool alive;
	bool ring;
	bool limp_home; /* it hears nobody or cannot send: it stays in emergency operation */
	bool sleep_indication;
	bool sleep_acknowledge;
	bool unknown_bits; /* the operation code has bits the layout does not know */
};

/* Decodes a frame by a layout. -EINVAL when it is not a message of it: another
 * ID, a remote frame, an error report, fewer than 2 bytes, an operation code
 * without operation or with several (other messages may lie between the nodes' IDs). */
int nod_osek_nm_decode(struct nod_osek_nm *out, const struct nod_frame *frame,
		       const struct nod_nm_layout *layout);

/* The node asks for the network to stay awake: a ring or limp-home message without the
 * sleep indication, each of which cancels the others' way to sleep. An alive message only
 * says that the node has started anew: released nodes send it without the indication. */
bool nod_osek_nm_is_request(const struct nod_osek_nm *message);

struct nod_nm_message;
/* Takes one into the record of its node: see struct nod_nm_rules. */
int nod_osek_nm_take(const struct nod_nm_message *message);

#endif
