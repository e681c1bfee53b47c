/* SPDX-License-Identifier: MIT */
/* One packet of pcap link type 227 (LINKTYPE_CAN_SOCKETCAN, as described at
 * tcpdump.org, "Link-layer header types"). */
#ifndef NOD_PACKET_H
#define NOD_PACKET_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "frame.h"

#define NOD_LINKTYPE_CAN 227

/* Parses `captured` bytes of a packet that had `original` bytes into the id,
 * length, flags, raw_dlc and data of *frame; time and interface stay. Returns
 * false with *reason, a constant, when it is no CAN or CAN FD frame. */
bool nod_packet_parse(struct nod_frame *frame, const uint8_t *bytes, size_t captured,
		      size_t original, const char **reason);

#endif
