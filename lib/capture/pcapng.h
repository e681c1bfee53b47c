/* SPDX-License-Identifier: MIT */
/* The blocks of a pcapng file (draft-ietf-opsawg-pcapng), as far as captures
 * of CAN use them. libpcap reads pcapng, too, but does not tell which of the
 * interfaces a packet came from, and two networks would look like one. */
#ifndef NOD_PCAPNG_H
#define NOD_PCAPNG_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "timestamp.h"

enum {
	NOD_PCAPNG_INTERFACE = 1, /* interface description block */
	NOD_PCAPNG_PACKET_OLD = 2,
	NOD_PCAPNG_PACKET_SIMPLE = 3,
	NOD_PCAPNG_STATISTICS = 5,
	NOD_PCAPNG_PACKET = 6 /* enhanced packet block */
};
#define NOD_PCAPNG_SECTION UINT32_C(0x0A0D0D0A)
#define NOD_PCAPNG_ORDER UINT32_C(0x1A2B3C4D)

/* The body of a block: what lies between its two lengths. */
struct nod_pcapng_block {
	uint32_t type;
	bool big_endian;
	const uint8_t *body;
	size_t length;
};

uint32_t nod_pcapng_word(const uint8_t *bytes, bool big_endian);

/* How an interface counts time. */
struct nod_pcapng_clock {
	uint64_t ticks_per_second;
	int64_t offset; /* seconds to be added */
};

struct nod_pcapng_interface {
	unsigned link_type;
	struct nod_pcapng_clock clock;
	const uint8_t *name; /* in the body; NULL: has none */
	size_t name_length;
};

/* Return false with *reason when the body is malformed. */
bool nod_pcapng_interface_parse(struct nod_pcapng_interface *interface,
				const struct nod_pcapng_block *block, const char **reason);

struct nod_pcapng_packet {
	uint32_t interface;
	uint64_t ticks;
	const uint8_t *data;
	size_t captured, original;
	uint64_t lost;       /* frames lost before this one, as far as stated */
	bool received, sent; /* as far as stated */
};

/* For both packet blocks that carry a time. */
bool nod_pcapng_packet_parse(struct nod_pcapng_packet *packet, const struct nod_pcapng_block *block,
			     const char **reason);

/* Statistics: the number of frames lost so far; 0 when it is not stated. */
bool nod_pcapng_statistics_parse(uint32_t *interface, uint64_t *lost,
				 const struct nod_pcapng_block *block);

/* Cut toward the past to whole nanoseconds. False when it does not fit. */
bool nod_pcapng_time(nod_time *time, const struct nod_pcapng_clock *clock, uint64_t ticks);

#endif
