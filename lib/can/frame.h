/* SPDX-License-Identifier: MIT */
/* One CAN frame, as every source delivers it and the engine takes it.
 *
 * The id word has the SocketCAN layout (linux/can.h, also the pcap link type
 * 227): the arbitration ID in the low bits and three flags above. 2A0 and
 * 000002A0 are different IDs, so the EFF flag always travels with the ID. */
#ifndef NOD_FRAME_H
#define NOD_FRAME_H

#include <stdbool.h>
#include <stdint.h>

#include "timestamp.h"

#define NOD_ID_EXTENDED UINT32_C(0x80000000) /* 29-bit ID (CAN_EFF_FLAG) */
#define NOD_ID_REMOTE UINT32_C(0x40000000)   /* remote frame (CAN_RTR_FLAG) */
#define NOD_ID_ERROR UINT32_C(0x20000000)    /* error report, not a frame (CAN_ERR_FLAG) */
#define NOD_ID_STANDARD_MASK UINT32_C(0x000007FF)
#define NOD_ID_EXTENDED_MASK UINT32_C(0x1FFFFFFF)

/* struct nod_frame.flags. The first three equal the bits of linux/can.h. */
enum {
	NOD_FRAME_BRS = 0x01,  /* CAN FD: bit rate switched */
	NOD_FRAME_ESI = 0x02,  /* CAN FD: error state indicator */
	NOD_FRAME_FD = 0x04,   /* CAN FD frame */
	NOD_FRAME_SENT = 0x10, /* marked as sent by the recording machine itself (candump -x "T") */
	NOD_FRAME_RECEIVED = 0x20 /* marked as received (candump -x "R") */
};

struct nod_frame {
	nod_time time;
	uint32_t id;       /* ID and flags, see above */
	uint8_t length;    /* payload bytes: 0..8, 0..64 with NOD_FRAME_FD */
	uint8_t flags;     /* NOD_FRAME_* */
	uint8_t raw_dlc;   /* 9..15 when a classical 8-byte frame carried such a DLC, else 0 */
	uint8_t interface; /* index in the nod_interfaces table of the session */
	uint8_t data[64];  /* bytes from length on are zero up to byte 7, undefined after */
};

/* The ID without remote and error flags: what identifies a sender's message. */
static inline uint32_t nod_frame_id(const struct nod_frame *frame)
{
	return frame->id & ~(NOD_ID_REMOTE | NOD_ID_ERROR);
}

static inline bool nod_frame_is_error(const struct nod_frame *frame)
{
	return frame->id & NOD_ID_ERROR;
}

/* "2A0" or "000002A0" style text of an ID with its EXTENDED flag. */
#define NOD_ID_TEXT 9
char *nod_id_print(char buf[NOD_ID_TEXT], uint32_t id);

/* Parses 1 to 3 hex digits as a standard ID, exactly 8 as an extended one.
 * Nothing else is accepted. Returns 0 or -EINVAL (-ERANGE above 7FF or
 * 1FFFFFFF). length is the number of characters that belong to the ID. */
int nod_id_parse(uint32_t *id, const char *text, unsigned length);

#endif
