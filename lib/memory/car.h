/* SPDX-License-Identifier: MIT */
/* What is kept of a recording, to know its car and like cars again. */
#ifndef NOD_CAR_H
#define NOD_CAR_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "arena.h"
#include "findings.h"
#include "vin.h"

/* A message of the car. Kept as it is: 12 bytes without holes. */
struct nod_car_message {
	uint32_t id;        /* with NOD_ID_EXTENDED */
	uint32_t period_us; /* 0: not cyclic */
	uint16_t network;   /* a number that tells the networks of one recording apart */
	uint16_t found;     /* 1: of the sender that was found */
};

struct nod_car {
	const char *path;
	char vin[NOD_VIN_LENGTH + 1];     /* "": not known */
	const char *map;                  /* title of its vehicle file; "": none */
	nod_time start, end;              /* first and last frame; without any, of the recording */
	bool good;                        /* it slept as it should, with nothing isolated */
	bool tried;                       /* an isolation showed something */
	bool proved;                      /* by isolation, that it was who was found */
	const char *found;                /* the sender that was proved or named; "": nobody */
	bool mended;                      /* the journal notes a repair ... */
	const char *part;                 /* ... of this module of the map; "": of none */
	struct nod_car_message *messages; /* by network, then ID */
	size_t message_count;
};

/* Fills it in from what was found; a tester and the answers to it are left out. vin NULL: not
 * heard; then what the journal says. Texts and messages live in the arena. 0 or -ENOMEM. */
int nod_car_describe(struct nod_car *car, struct nod_arena *arena, const struct nod_findings *f,
		     const char *path, const char *vin);

/* True when both VINs are known and equal. */
bool nod_car_is_same(const struct nod_car *a, const struct nod_car *b);

#endif
