/* SPDX-License-Identifier: MIT */
#include "payload.h"

static int pick_free_byte(const struct sim_payload *p, struct sim_random *random)
{
	for (int tries = 0; tries < 16; tries++) {
		int8_t byte = (int8_t)sim_random_range(random, 0, p->length - 1);
		if (p->clock_every && byte == p->clock_byte)
			continue;
		if (p->page_count && (byte == p->page_byte || byte == p->page_byte + 1))
			continue;
		if (byte != p->counter_byte && byte != p->checksum_byte && byte != p->value_byte &&
		    (p->value_byte < 0 || byte != p->value_byte + 1))
			return byte;
	}
	return SIM_NO_BYTE;
}

void sim_payload_invent(struct sim_payload *p, struct sim_random *random, unsigned length)
{
	*p = (struct sim_payload){.length = (uint8_t)length,
				  .counter_byte = SIM_NO_BYTE,
				  .checksum_byte = SIM_NO_BYTE,
				  .value_byte = SIM_NO_BYTE,
				  .toggle_bit = -1};
	for (unsigned i = 0; i < length; i++)
		p->data[i] = sim_random_chance(random, 40)
				     ? 0
				     : (uint8_t)sim_random_range(random, 0, 255);
	if (length >= 4 && sim_random_chance(random, 40)) {
		p->checksum_byte = (int8_t)(sim_random_chance(random, 50) ? 0 : length - 1);
		p->checksum = (uint8_t)sim_random_range(random, SIM_CHECKSUM_XOR,
							SIM_CHECKSUM_CRC_2F);
		p->data_id = (uint8_t)sim_random_range(random, 0, 255);
	}
	if (length >= 2 && (p->checksum || sim_random_chance(random, 25))) {
		p->counter_byte = (int8_t)pick_free_byte(p, random);
		p->counter_bits = sim_random_chance(random, 70) ? 4 : 8;
	}
	if (length >= 5 && sim_random_chance(random, 50)) {
		int byte = (int)sim_random_range(random, 1, length - 3);
		if (p->counter_byte != byte && p->counter_byte != byte + 1)
			p->value_byte = (int8_t)byte;
		p->value_parked = sim_random_chance(random, 15);
	}
}

uint8_t sim_payload_crc(const struct sim_payload *p, uint8_t polynomial)
{
	unsigned crc = 0xFF;

	for (int i = -1; i < p->length; i++) {
		if (i == p->checksum_byte && i >= 0)
			continue;
		crc ^= i < 0 ? p->data_id : p->data[i];
		for (int bit = 0; bit < 8; bit++)
			crc = (crc << 1 ^ (crc & 0x80 ? polynomial : 0)) & 0xFF;
	}
	return (uint8_t)(crc ^ 0xFF);
}

static uint8_t checksum(const struct sim_payload *p)
{
	unsigned sum = 0, xor = 0;

	if (p->checksum == SIM_CHECKSUM_CRC_1D)
		return sim_payload_crc(p, 0x1D);
	if (p->checksum == SIM_CHECKSUM_CRC_2F)
		return sim_payload_crc(p, 0x2F);
	for (int i = 0; i < p->length; i++) {
		if (i == p->checksum_byte)
			continue;
		sum += p->data[i];
		xor ^= p->data[i];
	}
	return (uint8_t)(p->checksum == SIM_CHECKSUM_SUM ? sum : xor);
}

static void wander(struct sim_payload *p, struct sim_random *random)
{
	uint8_t *b = &p->data[p->value_byte];
	int value = b[0] << 8 | b[1];

	value += (int)sim_random_range(random, -3, 3);
	if (value < 0 || value > 0xFFFF)
		return;
	b[0] = (uint8_t)(value >> 8);
	b[1] = (uint8_t)value;
}

static void count(struct sim_payload *p)
{
	uint8_t *b = &p->data[p->counter_byte];

	if (p->counter_bits == 8)
		++*b;
	else
		*b = (uint8_t)((*b & 0xF0) | ((*b + 1) & 0x0F));
}

static void turn_page(struct sim_payload *p)
{
	uint8_t *b = &p->data[p->page_byte];

	b[0] = (uint8_t)((b[0] + 1) % p->page_count);
	b[1] = p->pages[b[0]];
}

void sim_payload_page(struct sim_payload *p, struct sim_random *random)
{
	int byte = pick_free_byte(p, random);

	if (byte < 0 || byte + 1 >= p->length || byte + 1 == p->counter_byte ||
	    byte + 1 == p->checksum_byte || byte + 1 == p->value_byte)
		return;
	if ((p->toggle_bit >= 0 && (p->toggle_bit / 8 == byte || p->toggle_bit / 8 == byte + 1)) ||
	    (p->flicker_percent && (p->flicker_bit / 8 == byte || p->flicker_bit / 8 == byte + 1)))
		return;
	p->page_byte = (int8_t)byte;
	p->page_count = 4;
	for (int i = 0; i < 4; i++)
		p->pages[i] = (uint8_t)sim_random_range(random, 0, 255);
}

void sim_payload_flip(struct sim_payload *p)
{
	if (p->toggle_bit >= 0)
		p->data[p->toggle_bit / 8] ^= (uint8_t)(p->whole_byte ? 0xFF
								      : 1 << p->toggle_bit % 8);
}

void sim_payload_clock(struct sim_payload *p, struct sim_random *random, int64_t period_ms)
{
	int byte = pick_free_byte(p, random);

	if (byte < 0 || period_ms > 1000 || period_ms < 5 ||
	    (p->toggle_bit >= 0 && p->toggle_bit / 8 == byte))
		return;
	p->clock_byte = (uint8_t)byte;
	p->clock_every = (uint8_t)(1000 / period_ms);
	p->data[byte] = 0;
}

static void tick(struct sim_payload *p)
{
	uint8_t *b = &p->data[p->clock_byte];

	if (++p->since_second < p->clock_every)
		return;
	p->since_second = 0;
	*b = *b % 16 < 9 ? (uint8_t)(*b + 1) : *b < 0x59 ? (uint8_t)(*b + 7) : 0;
}

void sim_payload_next(struct sim_payload *p, struct sim_random *random, bool parked)
{
	if (p->value_byte >= 0 && (p->value_parked || !parked))
		wander(p, random);
	if (p->flicker_percent && sim_random_chance(random, p->flicker_percent))
		p->data[p->flicker_bit / 8] ^= (uint8_t)(1 << p->flicker_bit % 8);
	if (p->page_count)
		turn_page(p);
	if (p->clock_every)
		tick(p);
	if (p->toggle_bit >= 0 && p->toggle_every && ++p->since_toggle >= p->toggle_every) {
		sim_payload_flip(p);
		p->since_toggle = 0;
	}
	if (p->counter_byte >= 0)
		count(p);
	if (p->checksum_byte >= 0)
		p->data[p->checksum_byte] = checksum(p);
}

int sim_payload_free_bit(const struct sim_payload *p, struct sim_random *random)
{
	int byte = pick_free_byte(p, random);

	return byte < 0 ? -1 : 8 * byte + (int)sim_random_range(random, 0, 7);
}
