/* SPDX-License-Identifier: MIT */
/* The vehicle identification number that modules tell a tester, read out of the traffic: the
 * answers to service 09h PID 02h (SAE J1979: 49 02 01, then 17 characters) and to reading data
 * identifier F190h (ISO 14229-1: 62 F1 90), in one CAN FD frame or in transport frames (ISO
 * 15765-2); and PGN 65260 of J1939, which ends in '*', in transport frames (SAE J1939-71 and -21).
 * All from memory of these standards. Whoever asks, from whatever ID the answer comes: three bytes
 * of service and 17 characters of the alphabet are no accident.
 *
 * Modules of one car may tell different ones, where a used part was fitted: what most answers say
 * counts, and a tie says nothing. What cars broadcast in forms of their own is not read. */
#ifndef NOD_VIN_HEARD_H
#define NOD_VIN_HEARD_H

#include <stdbool.h>
#include <stdint.h>

#include "frame.h"
#include "vin.h"

/* Answers under way at once, and different VINs of one car. Chosen: far beyond any car. */
#define NOD_VIN_ANSWERS 8
#define NOD_VINS 4

/* Header and VIN of a diagnostic answer; of J1939 the VIN and its '*'. */
#define NOD_VIN_ANSWER_BYTES 20

/* Begins as all zero. */
struct nod_vin_heard {
	struct nod_vin_answer {
		uint32_t id; /* of its frames; J1939: the sender's address */
		uint8_t interface, number, length, have;
		bool j1939, open;
		uint8_t bytes[NOD_VIN_ANSWER_BYTES];
	} answers[NOD_VIN_ANSWERS];
	unsigned open, next; /* answers under way; whose place the next one takes */
	char vins[NOD_VINS][NOD_VIN_LENGTH + 1];
	unsigned counts[NOD_VINS];
};

void nod_vin_heard_take(struct nod_vin_heard *heard, const struct nod_frame *frame);

/* NULL: none, or it cannot be told which is the car's. */
const char *nod_vin_heard_text(const struct nod_vin_heard *heard);

/* The first VIN in a text that a person wrote, by the signs of vin.h, with nothing of the alphabet
 * beside it. False: there is none, and vin is empty. */
bool nod_vin_find_text(char vin[NOD_VIN_LENGTH + 1], const char *text);

#endif
