/* SPDX-License-Identifier: MIT */
#include "pcapng.h"
#include "wide-product.h"

/* Option codes of the draft. */
enum {
	OPTION_END = 0,
	IF_NAME = 2,
	IF_TSRESOL = 9,
	IF_TSOFFSET = 14,
	EPB_FLAGS = 2,
	EPB_DROPCOUNT = 4,
	ISB_IFDROP = 5
};

static bool fail(const char **reason, const char *text)
{
	*reason = text;
	return false;
}

static unsigned half(const uint8_t *p, bool big_endian)
{
	return big_endian ? (unsigned)(p[0] << 8 | p[1]) : (unsigned)(p[1] << 8 | p[0]);
}

uint32_t nod_pcapng_word(const uint8_t *p, bool big_endian)
{
	uint32_t first = half(p, big_endian), second = half(p + 2, big_endian);
	return big_endian ? first << 16 | second : second << 16 | first;
}

/* A 64-bit value of an option, in the byte order of the section. */
static uint64_t twin(const uint8_t *p, bool big_endian)
{
	uint64_t first = nod_pcapng_word(p, big_endian),
		 second = nod_pcapng_word(p + 4, big_endian);
	return big_endian ? first << 32 | second : second << 32 | first;
}

static size_t padded(size_t length)
{
	return (length + 3) & ~(size_t)3;
}

/* The value of the first option `code` of at least `size` bytes among those
 * from `at` on; NULL when there is none. */
static const uint8_t *find_option(const struct nod_pcapng_block *block, size_t at, unsigned code,
				  size_t size, size_t *length)
{
	while (at + 4 <= block->length) {
		const uint8_t *option = block->body + at;
		unsigned found = half(option, block->big_endian);
		*length = half(option + 2, block->big_endian);
		if (found == OPTION_END || *length > block->length - at - 4)
			return NULL;
		if (found == code && *length >= size)
			return option + 4;
		at += 4 + padded(*length);
	}
	return NULL;
}

/* if_tsresol: a power of 10, or of 2 when the highest bit is set. */
static bool parse_resolution(struct nod_pcapng_clock *clock, uint8_t code)
{
	unsigned exponent = code & 0x7F;

	clock->ticks_per_second = 1;
	if (exponent > (code & 0x80 ? 63 : 19))
		return false;
	for (unsigned i = 0; i < exponent; i++)
		clock->ticks_per_second *= code & 0x80 ? 2 : 10;
	return true;
}

bool nod_pcapng_interface_parse(struct nod_pcapng_interface *interface,
				const struct nod_pcapng_block *block, const char **reason)
{
	size_t length;

	if (block->length < 8)
		return fail(reason, "an interface description that is too short");
	*interface = (struct nod_pcapng_interface){
		.link_type = half(block->body, block->big_endian),
		.clock = {.ticks_per_second = 1000000},
	};
	interface->name = find_option(block, 8, IF_NAME, 1, &interface->name_length);
	const uint8_t *resolution = find_option(block, 8, IF_TSRESOL, 1, &length);
	if (resolution && !parse_resolution(&interface->clock, *resolution))
		return fail(reason, "an interface with an impossible resolution of time");
	const uint8_t *offset = find_option(block, 8, IF_TSOFFSET, 8, &length);
	if (offset)
		interface->clock.offset = (int64_t)twin(offset, block->big_endian);
	return true;
}

static void parse_packet_options(struct nod_pcapng_packet *packet,
				 const struct nod_pcapng_block *block, size_t at)
{
	size_t length;
	const uint8_t *flags = find_option(block, at, EPB_FLAGS, 4, &length);
	const uint8_t *lost = find_option(block, at, EPB_DROPCOUNT, 8, &length);

	if (flags) {
		uint32_t direction = nod_pcapng_word(flags, block->big_endian) & 3;
		packet->received = direction == 1;
		packet->sent = direction == 2;
	}
	if (lost)
		packet->lost = twin(lost, block->big_endian);
}

bool nod_pcapng_packet_parse(struct nod_pcapng_packet *packet, const struct nod_pcapng_block *block,
			     const char **reason)
{
	const uint8_t *body = block->body;
	bool big = block->big_endian;

	if (block->length < 20)
		return fail(reason, "a packet block that is too short");
	*packet = (struct nod_pcapng_packet){
		.interface = block->type == NOD_PCAPNG_PACKET ? nod_pcapng_word(body, big)
							      : half(body, big),
		.ticks = (uint64_t)nod_pcapng_word(body + 4, big) << 32 |
			 nod_pcapng_word(body + 8, big),
		.captured = nod_pcapng_word(body + 12, big),
		.original = nod_pcapng_word(body + 16, big),
		.data = body + 20,
	};
	if (packet->captured > block->length - 20)
		return fail(reason, "a packet longer than its block");
	if (block->type == NOD_PCAPNG_PACKET)
		parse_packet_options(packet, block, 20 + padded(packet->captured));
	return true;
}

bool nod_pcapng_statistics_parse(uint32_t *interface, uint64_t *lost,
				 const struct nod_pcapng_block *block)
{
	size_t length;

	if (block->length < 12)
		return false;
	*interface = nod_pcapng_word(block->body, block->big_endian);
	const uint8_t *option = find_option(block, 12, ISB_IFDROP, 8, &length);
	*lost = option ? twin(option, block->big_endian) : 0;
	return true;
}

bool nod_pcapng_time(nod_time *time, const struct nod_pcapng_clock *clock, uint64_t ticks)
{
	struct nod_quotient ns;
	int64_t offset;

	if (!nod_multiply_divide(&ns, ticks, NOD_NS_PER_S, clock->ticks_per_second) ||
	    __builtin_mul_overflow(clock->offset, NOD_NS_PER_S, &offset) ||
	    __builtin_add_overflow(ns.whole, offset, &time->ns) || time->ns < 0)
		return false;
	return nod_time_is_loggable(*time);
}
