/* SPDX-License-Identifier: MIT */
/* Fuse readings as people write them. */
#ifndef NOD_FUSE_READING_H
#define NOD_FUSE_READING_H

#include <stddef.h>

#include "arena.h"
#include "fuse-survey.h"
#include "quantity.h"

/* Parses "WHICH=2.3mV" or "WHICH 2.3 mV" into *reading. WHICH is a fuse of the
 * vehicle file ("F12"), or FAMILY:RATING ("mini:10A"), or
 * NAME:FAMILY:RATING ("F12:mini:10A"). A value that fits neither is
 * kept by its name, so that its current can be refused with the reason.
 * uncertainty_uv < 0 takes one count of the last written digit: published (a trade magazine, see
 * fuse.c) in the form "one count on a 30 A fuse is 51 mA, 0.0 mV only says less than that"; half
 * a count would be the rounding alone. Texts are put into the arena. Returns 0, -ENOMEM, or -EINVAL with err. */
int nod_fuse_reading_parse(struct nod_fuse_reading *reading, const char *text,
			   int64_t uncertainty_uv, const struct nod_vehicle *vehicle,
			   struct nod_arena *arena, struct nod_error *err);

#endif
