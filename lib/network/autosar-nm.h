/* SPDX-License-Identifier: MIT */
/* AUTOSAR CanNm: what one network-management PDU says.
 *
 * A node sends its PDU for as long as it wants the network (or has just woken
 * it); a node that is ready to sleep sends none. So each PDU is a request.
 *
 * Byte positions are the layout's: node address in byte 0 and control bit
 * vector in byte 1 by default, either may stand in the other place or be
 * absent (SWS_CanNm_00074 and 00075, as quoted in a public header). */
#ifndef NOD_AUTOSAR_NM_H
#define NOD_AUTOSAR_NM_H

#include <stdbool.h>
#include <stdint.h>

#include "frame.h"
#include "vehicle.h"

/* The control bit vector, by release of the standard: 3.0 / 3.1 know only bit
 * 0; 3.2 has the coordinator id in bits 1 and 2; 4.0 knows bits 0 and 3; 4.1
 * and later know 0, 3, 4 and 6; R20-11 adds bits 1 and 5. Bits 2 and 7 are
 * reserved since. (wireshark packet-autosar-nm.c) */
enum {
	NOD_AUTOSAR_NM_REPEAT_MESSAGE = 0x01, /* request: all nodes announce themselves again */
	NOD_AUTOSAR_NM_PN_SHUTDOWN = 0x02,    /* R20-11: partial network shutdown request */
	NOD_AUTOSAR_NM_COORDINATOR_ID = 0x06, /* 3.2 only */
	NOD_AUTOSAR_NM_SLEEP_READY = 0x08,    /* coordinator: start the synchronised shutdown */
	NOD_AUTOSAR_NM_ACTIVE_WAKEUP = 0x10,  /* this node woke the network of its own accord */
	NOD_AUTOSAR_NM_PN_LEARNING = 0x20,    /* R20-11 */
	NOD_AUTOSAR_NM_PARTIAL = 0x40,        /* PNI: partial network info is in the user data */
	NOD_AUTOSAR_NM_RESERVED = 0x84
};

struct nod_autosar_nm {
	int node;        /* address: from the node byte, else ID minus the first ID */
	uint8_t control; /* NOD_AUTOSAR_NM_*; 0 when the layout has no control byte */
	bool has_control;
	uint64_t partial;   /* partial network info, its first byte lowest; 0 without PNI bit (a
			     * layout without a control byte is taken to have it always) */
	uint64_t user_mask; /* bit i: byte i of the frame is user data */
	bool user_unset;    /* all user data are FF, the value at start (SWS_CanNm_00025) */
};

/* Decodes a frame by a layout. -EINVAL when it is not a NM PDU of it: another
 * ID, a remote frame, an error report, or too short for its bytes. */
int nod_autosar_nm_decode(struct nod_autosar_nm *out, const struct nod_frame *frame,
			  const struct nod_nm_layout *layout);

struct nod_nm_message;
/* Takes one into the record of its node: see struct nod_nm_rules. */
int nod_autosar_nm_take(const struct nod_nm_message *message);

#endif
