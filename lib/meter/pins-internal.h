/* SPDX-License-Identifier: MIT */
/* Shared by the files that make up the judgement of pins: pins.c (volts and
 * ohms) and pins-recording.c. */
#ifndef NOD_PINS_INTERNAL_H
#define NOD_PINS_INTERNAL_H

#include "pins.h"

/* Adds a finding; the text is borrowed. */
void nod_pins_add(struct nod_pins *p, enum nod_pins_state state, enum nod_pins_layer layer,
		  bool fault, const char *text);

bool nod_pins_has(const struct nod_pins *p, enum nod_pins_state state);

/* "12 %", "0.4 %"; in the arena. */
const char *nod_pins_percent(struct nod_pins *p, int64_t ppm);

/* Compares what a recording predicts with what the meter showed, `volts`
 * being the state found from the volts. Adds nothing without a recording. */
void nod_pins_compare_recording(struct nod_pins *p, const struct nod_pins_input *in,
				enum nod_pins_state volts);

#endif
