/* SPDX-License-Identifier: MIT */
/* Captures in pcapng form, see pcapng.h. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "packet.h"
#include "pcapng.h"
#include "source-private.h"

/* Interfaces of one section, and bytes of one block, that are looked at.
 * Chosen: names are limited to 255 anyway; a CAN frame needs 100 bytes. */
#define INTERFACES 255
#define BLOCK_SIZE ((size_t)64 * 1024)

struct ng_interface {
	struct nod_pcapng_clock clock;
	bool is_can;
	uint8_t index;
	uint64_t lost; /* as the statistics said last */
};

struct pcapng_source {
	struct nod_source base;
	struct ng_interface interfaces[INTERFACES];
	unsigned interface_count;
	bool big_endian;
	bool ended;
	bool frame_waits; /* behind a report of lost frames */
	struct nod_frame frame;
	uint64_t packets;
	char reason[128];
	size_t begin, end, skip; /* skip: bytes of a large block still to come */
	uint8_t buffer[BLOCK_SIZE];
};

/* Makes `size` bytes available. Returns 1, 0 when the capture ends before, or
 * a negative errno. */
static int need(struct pcapng_source *ng, size_t size)
{
	if (ng->end - ng->begin >= size)
		return 1;
	memmove(ng->buffer, ng->buffer + ng->begin, ng->end - ng->begin);
	ng->end -= ng->begin;
	ng->begin = 0;
	while (ng->end < size) {
		ptrdiff_t n = nod_inflate_read(ng->base.input.inflate, ng->buffer + ng->end,
					       BLOCK_SIZE - ng->end);
		if (n <= 0)
			return (int)n;
		ng->end += (size_t)n;
	}
	return 1;
}

/* Moves over `size` bytes, which may be more than the buffer holds. */
static int skip(struct pcapng_source *ng, size_t size)
{
	while (size) {
		int status = need(ng, 1);
		if (status <= 0)
			return status;
		size_t step = ng->end - ng->begin < size ? ng->end - ng->begin : size;
		ng->begin += step;
		size -= step;
	}
	return 1;
}

/* Something wrong between packets: it has the number of the next one. */
static int deliver_between(struct pcapng_source *ng, const struct nod_event **event,
			   const char *reason)
{
	return nod_source_deliver_defect(&ng->base, event, ng->packets + 1, 0, reason);
}

/* Nothing behind this place can be trusted. */
static int give_up(struct pcapng_source *ng, const struct nod_event **event, const char *reason)
{
	ng->ended = true;
	ng->base.counts.torn = true;
	return deliver_between(ng, event, reason);
}

static bool take_byte_order(struct pcapng_source *ng)
{
	const uint8_t *magic = ng->buffer + ng->begin + 8;

	if (nod_pcapng_word(magic, false) != NOD_PCAPNG_ORDER &&
	    nod_pcapng_word(magic, true) != NOD_PCAPNG_ORDER)
		return false;
	ng->big_endian = nod_pcapng_word(magic, true) == NOD_PCAPNG_ORDER;
	ng->interface_count = 0;
	return true;
}

/* Reads the next block that fits the buffer. Returns 1, 0 at the end, 2 when
 * *event is the last one, or a negative errno. */
static int next_block(struct pcapng_source *ng, struct nod_pcapng_block *block,
		      const struct nod_event **event)
{
	for (;;) {
		int status = need(ng, 12);
		if (status <= 0) {
			ng->base.counts.torn |= status == 0 && ng->end != ng->begin;
			return status;
		}
		const uint8_t *p = ng->buffer + ng->begin;
		block->type = nod_pcapng_word(p, false); /* a section's reads the same both ways */
		if (block->type == NOD_PCAPNG_SECTION && !take_byte_order(ng))
			return 1 + give_up(ng, event, "a section without its byte order");
		block->big_endian = ng->big_endian;
		block->type = nod_pcapng_word(p, ng->big_endian);
		size_t total = nod_pcapng_word(p + 4, ng->big_endian);
		if (total < 12 || total % 4)
			return 1 + give_up(ng, event, "a block of an impossible length");
		bool fits = total <= BLOCK_SIZE;
		status = fits ? need(ng, total) : skip(ng, total);
		if (status <= 0) {
			ng->base.counts.torn |= status == 0;
			return status;
		}
		if (!fits)
			continue;
		block->body = ng->buffer + ng->begin + 8;
		block->length = total - 12;
		ng->begin += total;
		return 1;
	}
}

static int take_interface(struct pcapng_source *ng, const struct nod_pcapng_block *block,
			  const struct nod_event **event)
{
	struct nod_pcapng_interface found;
	const char *reason;

	if (!nod_pcapng_interface_parse(&found, block, &reason))
		return give_up(ng, event, reason);
	if (ng->interface_count == INTERFACES)
		return give_up(ng, event, "more than 255 interfaces in a section");
	unsigned number = ng->interface_count++;
	struct ng_interface *interface = &ng->interfaces[number];
	*interface = (struct ng_interface){.clock = found.clock,
					   .is_can = found.link_type == NOD_LINKTYPE_CAN};
	if (!interface->is_can) {
		snprintf(ng->reason, sizeof(ng->reason),
			 "interface %u has link type %u, not 227 (SocketCAN): its packets are left "
			 "out",
			 number, found.link_type);
		return deliver_between(ng, event, ng->reason);
	}
	int index = found.name ? nod_source_name_interface(&ng->base, (const char *)found.name,
							   found.name_length)
			       : nod_source_name_by_file(&ng->base, number);
	if (index < 0)
		return give_up(ng, event,
			       "more than " NOD_INTERFACES_TEXT " different interface names");
	interface->index = (uint8_t)index;
	return 0;
}

static int deliver_waiting(struct pcapng_source *ng, const struct nod_event **event)
{
	ng->frame_waits = false;
	ng->base.event.frame = ng->frame;
	return nod_source_deliver_frame(&ng->base, event);
}

static int take_packet(struct pcapng_source *ng, const struct nod_pcapng_block *block,
		       const struct nod_event **event)
{
	struct nod_pcapng_packet packet;
	const char *reason = "a packet of an interface that was not described";
	struct nod_frame *frame = &ng->frame;

	ng->packets++;
	if (!nod_pcapng_packet_parse(&packet, block, &reason) ||
	    packet.interface >= ng->interface_count)
		return nod_source_deliver_defect(&ng->base, event, ng->packets, 0, reason);
	const struct ng_interface *interface = &ng->interfaces[packet.interface];
	if (!interface->is_can)
		return 0;
	reason = "a time that is out of range";
	if (!nod_pcapng_time(&frame->time, &interface->clock, packet.ticks) ||
	    !nod_packet_parse(frame, packet.data, packet.captured, packet.original, &reason))
		return nod_source_deliver_defect(&ng->base, event, ng->packets, 0, reason);
	frame->interface = interface->index;
	frame->flags |= packet.received ? NOD_FRAME_RECEIVED : packet.sent ? NOD_FRAME_SENT : 0;
	if (!packet.lost)
		return deliver_waiting(ng, event);
	ng->frame_waits = true;
	return nod_source_deliver_loss(&ng->base, event, interface->index, packet.lost);
}

static int take_statistics(struct pcapng_source *ng, const struct nod_pcapng_block *block,
			   const struct nod_event **event)
{
	uint32_t number;
	uint64_t lost;

	if (!nod_pcapng_statistics_parse(&number, &lost, block) || number >= ng->interface_count)
		return 0;
	struct ng_interface *interface = &ng->interfaces[number];
	if (!interface->is_can || lost <= interface->lost)
		return 0;
	uint64_t more = lost - interface->lost;
	interface->lost = lost;
	return nod_source_deliver_loss(&ng->base, event, interface->index, more);
}

static int take_block(struct pcapng_source *ng, const struct nod_pcapng_block *block,
		      const struct nod_event **event)
{
	switch (block->type) {
	case NOD_PCAPNG_INTERFACE:
		return take_interface(ng, block, event);
	case NOD_PCAPNG_PACKET:
	case NOD_PCAPNG_PACKET_OLD:
		return take_packet(ng, block, event);
	case NOD_PCAPNG_PACKET_SIMPLE:
		ng->packets++;
		return nod_source_deliver_defect(&ng->base, event, ng->packets, 0,
						 "a packet without a time");
	case NOD_PCAPNG_STATISTICS:
		return take_statistics(ng, block, event);
	default:
		return 0;
	}
}

static int pcapng_next(struct nod_source *base, const struct nod_event **event,
		       struct nod_error *err)
{
	struct pcapng_source *ng = (struct pcapng_source *)base;
	struct nod_pcapng_block block;

	if (ng->frame_waits)
		return deliver_waiting(ng, event);
	while (!ng->ended) {
		int status = next_block(ng, &block, event);
		if (status < 0)
			return nod_source_read_failed(base, status, err);
		if (status == 2)
			return 1;
		if (status == 0) {
			ng->ended = true;
			base->counts.torn |= nod_inflate_torn(base->input.inflate);
		} else if (take_block(ng, &block, event)) {
			return 1;
		}
	}
	return 0;
}

static void pcapng_counts(const struct nod_source *base, struct nod_source_counts *counts)
{
	*counts = base->counts;
	counts->lines = ((const struct pcapng_source *)base)->packets;
}

static const struct nod_source_ops pcapng_ops = {
	.next = pcapng_next, .counts = pcapng_counts, .close = nod_source_free};

/* Looks through the descriptions in front of the first packet, as far as they
 * are in the buffer. Returns the link type to be refused, or -1. */
static int foreign_link_type(struct pcapng_source *ng)
{
	int foreign = -1;
	size_t at = 0;

	while (at + 16 <= ng->end) {
		const uint8_t *p = ng->buffer + at;
		uint32_t type = nod_pcapng_word(p, ng->big_endian);
		size_t total = nod_pcapng_word(p + 4, ng->big_endian);
		if (total < 12 || type == NOD_PCAPNG_PACKET || type == NOD_PCAPNG_PACKET_OLD ||
		    type == NOD_PCAPNG_PACKET_SIMPLE)
			break;
		struct nod_pcapng_block block = {type, ng->big_endian, p + 8, total - 12};
		struct nod_pcapng_interface interface;
		const char *reason;
		at += total;
		if (type != NOD_PCAPNG_INTERFACE || at > ng->end ||
		    !nod_pcapng_interface_parse(&interface, &block, &reason))
			continue;
		if (interface.link_type == NOD_LINKTYPE_CAN)
			return -1;
		foreign = (int)interface.link_type;
	}
	return foreign;
}

static int check_head(struct pcapng_source *ng, struct nod_error *err)
{
	const char *name = ng->base.input.name;
	int status = need(ng, BLOCK_SIZE);

	if (status < 0)
		return nod_source_read_failed(&ng->base, status, err);
	if (ng->end < 12 || !take_byte_order(ng))
		return nod_error_set(err, EINVAL, "%s: a pcapng file cut off in its first block",
				     name);
	int foreign = foreign_link_type(ng);
	if (foreign >= 0)
		return nod_error_set(
			err, EINVAL,
			"%s: a pcapng file of link type %d; only 227 (SocketCAN) holds "
			"CAN frames",
			name, foreign);
	return 0;
}

struct nod_source *nod_source_pcapng(struct nod_input input, struct nod_interfaces *table,
				     struct nod_error *err)
{
	struct pcapng_source *ng = malloc(sizeof(*ng));

	if (!ng)
		return nod_source_no_memory(&input, err);
	memset(ng, 0, offsetof(struct pcapng_source, buffer));
	nod_source_init(&ng->base, &pcapng_ops, input, table);
	snprintf(ng->base.form, sizeof(ng->base.form), "pcapng%s", nod_inflate_form(input.inflate));
	int status = check_head(ng, err);
	if (status) {
		nod_source_free(&ng->base);
		errno = -status;
		return NULL;
	}
	return &ng->base;
}
