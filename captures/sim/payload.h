/* SPDX-License-Identifier: MIT */
/* What stands in an application frame: counters, checksums, a slowly varying
 * value, constants, status bits; built anew for every frame sent. */
#ifndef SIM_PAYLOAD_H
#define SIM_PAYLOAD_H

#include <stdbool.h>
#include <stdint.h>

#include "random.h"

enum sim_checksum {
	SIM_CHECKSUM_NONE,
	SIM_CHECKSUM_XOR,
	SIM_CHECKSUM_SUM,
	SIM_CHECKSUM_CRC_1D, /* CRC-8, polynomial 1Dh, init and final FFh, data ID first */
	SIM_CHECKSUM_CRC_2F  /* CRC-8, polynomial 2Fh, the same */
};

#define SIM_NO_BYTE (-1)

struct sim_payload {
	uint8_t data[8];
	uint8_t length;
	int8_t counter_byte;  /* SIM_NO_BYTE: none */
	uint8_t counter_bits; /* 4 (low nibble) or 8 */
	int8_t checksum_byte;
	uint8_t checksum; /* enum sim_checksum */
	uint8_t data_id;
	int8_t value_byte;    /* a 16-bit value that wanders, most significant byte first */
	bool value_parked;    /* wanders while the car is parked, too */
	int16_t toggle_bit;   /* a stuck input's bit that goes to and fro; -1: none */
	uint8_t toggle_every; /* frames between its changes; 0: something else moves it */
	uint8_t since_toggle;
	bool whole_byte;     /* the input moves the byte of its bit, 00 and FF, not the bit alone */
	uint8_t clock_byte;  /* seconds of a clock, in BCD */
	uint8_t clock_every; /* frames a second; 0: no clock */
	uint8_t since_second;
	int16_t flicker_bit;     /* the lowest bit of a value between two steps */
	uint8_t flicker_percent; /* of the frames in which it changes; 0: never */
	int8_t page_byte;        /* tells which contents the byte after it has */
	uint8_t page_count;      /* 0: always the same */
	uint8_t pages[4];
};

/* Invents a layout for `length` bytes. */
void sim_payload_invent(struct sim_payload *payload, struct sim_random *random, unsigned length);

/* Moves on to the contents of the next frame. */
void sim_payload_next(struct sim_payload *payload, struct sim_random *random, bool parked);

/* The input changes; nothing without one. */
void sim_payload_flip(struct sim_payload *payload);

/* Lets a byte count seconds, as a message that comes every so often does. */
void sim_payload_clock(struct sim_payload *payload, struct sim_random *random, int64_t period_ms);

/* Lets two bytes take turns: a page number and what stands on it. */
void sim_payload_page(struct sim_payload *payload, struct sim_random *random);

/* A bit (0..63) that no counter, checksum or value covers; -1 when none is left. */
int sim_payload_free_bit(const struct sim_payload *payload, struct sim_random *random);

/* CRC-8 over data_id and the bytes, the checksum's own byte left out. */
uint8_t sim_payload_crc(const struct sim_payload *payload, uint8_t polynomial);

#endif
