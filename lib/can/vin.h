/* SPDX-License-Identifier: MIT */
/* Finds vehicle identification numbers in traffic and text, to take them out
 * before a recording is given away.
 *
 * Looked for are 17 or more characters in a row of the alphabet of a VIN (ISO
 * 3779: digits and capitals without I, O and Q) among which are a letter, at
 * least four digits (the last four of a VIN are numeric) and at least six
 * different characters, so that padding is not taken for one. In traffic they
 * may go on from frame to frame of one ID, with or without one byte (a sequence
 * number) in front: that covers ISO-TP and J1939 transport frames and what
 * modules broadcast in parts. Not found is a VIN that is packed in any other way. */
#ifndef NOD_VIN_H
#define NOD_VIN_H

#include <stddef.h>
#include <stdint.h>

#include "frame.h"

#define NOD_VIN_LENGTH 17

/* What stands in its place: not a character of a plausible VIN on its own. */
#define NOD_VIN_MASK 'X'

/* Replaces every VIN in a text by as many NOD_VIN_MASK. Returns how many. */
unsigned nod_vin_mask_text(char *text);

/* First pass: feed every frame, in order. Second pass: the same frames again
 * through nod_vin_mask_frame(). Memory grows with the number of IDs and of frames
 * that carry a part of a VIN. */
struct nod_vin_finder;
struct nod_vin_finder *nod_vin_finder_new(void); /* NULL: no memory */
void nod_vin_finder_free(struct nod_vin_finder *finder);

/* Returns 0 or -ENOMEM. */
int nod_vin_finder_feed(struct nod_vin_finder *finder, const struct nod_frame *frame);

/* Ends the first pass. Returns how many frames carry a part of a VIN. */
size_t nod_vin_finder_finish(struct nod_vin_finder *finder);

/* Masks what was found in this frame, by its place in the order. */
void nod_vin_mask_frame(struct nod_vin_finder *finder, struct nod_frame *frame);

#endif
