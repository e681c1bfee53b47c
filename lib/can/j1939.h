/* SPDX-License-Identifier: MIT */
/* J1939: what a 29-bit ID says, and names for its numbers.
 *
 * Field masks and the list of preferred addresses: wireshark packet-j1939.c;
 * constants: include/linux/can/j1939.h. J1939 has no agreed bus
 * sleep: its network management is about source addresses. */
#ifndef NOD_J1939_H
#define NOD_J1939_H

#include <stdbool.h>
#include <stdint.h>

#include "frame.h"

#define NOD_J1939_GLOBAL 0xFF
#define NOD_J1939_NULL_ADDRESS 0xFE
#define NOD_J1939_LAST_ADDRESS 0xFD /* the largest a unit can have */

#define NOD_J1939_PGN_ADDRESS_CLAIMED 0x0EE00

struct nod_j1939 {
	uint32_t pgn;        /* 18 bits; the destination is not part of it */
	uint8_t priority;    /* 0 (highest) to 7 */
	uint8_t source;      /* address of the sender */
	uint8_t destination; /* NOD_J1939_GLOBAL unless the ID names one */
};

/* False for a standard ID, a remote frame's or an error report's. */
bool nod_j1939_decode(struct nod_j1939 *out, uint32_t id);

/* A PGN in a payload, lowest byte first: bytes 0-2 of a request, 5-7 of
 * transport connection management. */
static inline uint32_t nod_j1939_pgn_decode(const uint8_t data[3])
{
	return (uint32_t)data[0] | (uint32_t)data[1] << 8 | (data[2] & 3u) << 16;
}

/* The unit the standard's list prefers for an address (industry group 0):
 * "Engine #1". NULL where it has none: 90 to 247 but for reserved and
 * arbitrary ones. */
const char *nod_j1939_address_name(uint8_t address);

/* A few PGNs that every truck network has, "engine speed"; NULL for others. */
const char *nod_j1939_pgn_name(uint32_t pgn);

#endif
