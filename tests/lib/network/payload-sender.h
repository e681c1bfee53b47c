/* SPDX-License-Identifier: MIT */
/* An invented message whose data a test fills in. */
#ifndef PAYLOAD_SENDER_H
#define PAYLOAD_SENDER_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "payload-take.h"

#define MS NOD_NS_PER_MS

/* An invented message: the test fills the data, send() takes it. */
struct sender {
	struct nod_payload payload;
	struct nod_frame frame;
	uint64_t seed;
};

static inline struct sender sender_new(unsigned length)
{
	struct sender s = {.frame = {.id = 0x2A0, .length = (uint8_t)length}, .seed = 99};

	nod_payload_init(&s.payload);
	return s;
}

static inline uint64_t send(struct sender *s)
{
	s->frame.time.ns += 100 * MS;
	return nod_payload_take_of(&s->payload, &s->frame, NULL);
}

static inline uint64_t random_next(struct sender *s)
{
	s->seed ^= s->seed << 13;
	s->seed ^= s->seed >> 7;
	s->seed ^= s->seed << 17;
	return s->seed >> 11;
}

static inline struct nod_payload_roles roles_of(const struct sender *s)
{
	struct nod_payload_roles r;

	nod_payload_roles(&s->payload, &r);
	return r;
}

static inline uint8_t crc8(const uint8_t *data, unsigned length, uint8_t polynomial, uint8_t crc)
{
	while (length--) {
		crc ^= *data++;
		for (int i = 0; i < 8; i++)
			crc = (uint8_t)(crc & 0x80 ? crc << 1 ^ polynomial : crc << 1);
	}
	return crc;
}

/* Fills byte `at` of a frame with a counter in byte 1 and some other content. */
static inline void fill_checksum(struct sender *s, enum nod_checksum_kind kind, unsigned at)
{
	uint8_t rest[9] = {0}, n = 0, sum = 0, xor = 0;

	for (unsigned i = 0; i < s->frame.length; i++)
		if (i != at) {
			rest[n++] = s->frame.data[i];
			sum = (uint8_t)(sum + s->frame.data[i]);
			xor ^= s->frame.data[i];
		}
	/* Hidden constant behind the data; one that the counter chooses. */
	uint8_t id = 0xC3;
	if (kind == NOD_CHECKSUM_CRC8_2F_LIST)
		id = (uint8_t)((s->frame.data[1] & 15) * 59 + 17);
	rest[n] = id;
	const uint8_t values[NOD_CHECKSUM_KINDS] = {
		[NOD_CHECKSUM_XOR] = xor^0x5A,
		[NOD_CHECKSUM_SUM] = (uint8_t)(sum + 7),
		[NOD_CHECKSUM_COMPLEMENT] = (uint8_t)~sum,
		[NOD_CHECKSUM_CRC8_1D] = crc8(rest, n, 0x1D, 0xFF) ^ 0xFF,
		[NOD_CHECKSUM_CRC8_1D_ID] = crc8(rest, n + 1u, 0x1D, 0x00),
		[NOD_CHECKSUM_CRC8_2F] = crc8(rest, n, 0x2F, 0x33),
		[NOD_CHECKSUM_CRC8_2F_ID] = crc8(rest, n + 1u, 0x2F, 0xFF) ^ 0xFF,
		[NOD_CHECKSUM_CRC8_2F_LIST] = crc8(rest, n + 1u, 0x2F, 0xFF) ^ 0xFF,
		[NOD_CHECKSUM_LIKE] = crc8(rest, n, 0x9B, 0x00),
	};
	s->frame.data[at] = values[kind];
}

#endif
