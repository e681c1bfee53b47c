/* SPDX-License-Identifier: MIT */
/* J1939: what a 29-bit ID says, and names for its numbers.
 *
 * Field masks and the list of preferred addresses: wireshark packet-j1939.c;
 * NAME and constants: include/linux/can/j1939.h. J1939 has no agreed bus
 * sleep: its network management is about source addresses. */
#ifndef NOD_J1939_H
#define NOD_J1939_H

#include <stdbool.h>
#include <stdint.h>

#include "frame.h"

#define NOD_J1939_GLOBAL 0xFF
#define NOD_J1939_NULL_ADDRESS 0xFE
#define NOD_J1939_LAST_ADDRESS 0xFD /* the largest a unit can have */

#define NOD_J1939_PGN_REQUEST 0x0EA00
#define NOD_J1939_PGN_ADDRESS_CLAIMED 0x0EE00
#define NOD_J1939_PGN_COMMANDED_ADDRESS 0x0FED8

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

/* The NAME of a unit, as it claims its address. */
struct nod_j1939_name {
	uint32_t identity;         /* 21 bits */
	uint16_t manufacturer;     /* 11 bits */
	uint8_t ecu_instance;      /* 3 bits */
	uint8_t function_instance; /* 5 bits */
	uint8_t function;
	uint8_t vehicle_system;          /* 7 bits */
	uint8_t vehicle_system_instance; /* 4 bits */
	uint8_t industry_group;          /* 3 bits */
	bool arbitrary_address;          /* can take another address when its own is contested */
};

struct nod_j1939_name nod_j1939_name_decode(const uint8_t data[8]);

/* True for an address claim; source is then the address claimed
 * (NOD_J1939_NULL_ADDRESS: the unit cannot claim one). */
bool nod_j1939_is_claim(const struct nod_frame *frame, struct nod_j1939_name *name,
			uint8_t *source);

#endif
