/* SPDX-License-Identifier: MIT */
/* Diagnostic traffic: what a tester asks and what modules answer. It is our
 * own doing (or a plugged-in dongle's), never a fault of the car.
 *
 * Recognised are the addresses that are common to all makers: 7DF and 7E0-7E7
 * with answers 8 above, and 29-bit normal fixed addressing 18DAxxF1, 18DBxxF1
 * with answers 18DAF1xx. F1 is the address of an external tester; other tester
 * addresses exist but cannot be told from modules, so they are not taken. Nor
 * are the makers' own 11-bit IDs.
 *
 * Conservative: the payload must be a valid transport protocol frame (ISO-TP)
 * as well, and where the service is visible it must be a request's or an
 * answer's (bit 6 of the service identifier, from memory of ISO 14229-1). */
#ifndef NOD_DIAGNOSTIC_H
#define NOD_DIAGNOSTIC_H

#include <stdbool.h>
#include <stdint.h>

#include "frame.h"

enum nod_diagnostic_kind {
	NOD_DIAGNOSTIC_NONE,
	NOD_DIAGNOSTIC_FUNCTIONAL, /* a tester asks all modules */
	NOD_DIAGNOSTIC_PHYSICAL,   /* a tester asks one module, or goes on receiving from it */
	NOD_DIAGNOSTIC_KEEP_ALIVE, /* a tester says it is still there (TesterPresent) */
	NOD_DIAGNOSTIC_RESPONSE    /* a module answers a tester */
};

enum nod_diagnostic_kind nod_diagnostic_classify(const struct nod_frame *frame);

/* Whatever the ID: the whole frame is a TesterPresent request and filling, also with the address
 * of who is asked before it (extended addressing). Three bytes that no ordinary message has for
 * good: who sends nothing else is a tester, answered or not, and under IDs of the maker's choice. */
bool nod_diagnostic_is_presence(const struct nod_frame *frame);

static inline bool nod_diagnostic_is_request(enum nod_diagnostic_kind kind)
{
	return kind != NOD_DIAGNOSTIC_NONE && kind != NOD_DIAGNOSTIC_RESPONSE;
}

/* False when no frame with this ID can be diagnostic: a quick first test. */
static inline bool nod_diagnostic_may_be(uint32_t id)
{
	if (id & NOD_ID_EXTENDED)
		return (id & UINT32_C(0x1FFE0000)) == UINT32_C(0x18DA0000);
	return (id & 0x7F0) == 0x7E0 || id == 0x7DF;
}

/* The kind of a transport protocol frame, by the high half of its first byte
 * (linux net/can/isotp.c). */
enum nod_isotp_kind {
	NOD_ISOTP_INVALID,
	NOD_ISOTP_SINGLE,
	NOD_ISOTP_FIRST,
	NOD_ISOTP_CONSECUTIVE,
	NOD_ISOTP_FLOW_CONTROL
};

struct nod_isotp {
	enum nod_isotp_kind kind;
	uint32_t length; /* of the whole message (single, first) */
	uint8_t start;   /* index of its first byte in the frame (single, first) */
	uint8_t number;  /* sequence number (consecutive), status 0 continue 1 wait 2 overflow */
};

/* Normal addressing only. kind is INVALID for what no sender would send. */
struct nod_isotp nod_isotp_decode(const struct nod_frame *frame);

#endif
