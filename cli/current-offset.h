/* SPDX-License-Identifier: MIT */
/* How far a logger's clock is off, from the session whose car it watched. */
#ifndef NOD_CURRENT_OFFSET_H
#define NOD_CURRENT_OFFSET_H

#include "clock-offset.h"
#include "error.h"

/* Matches the steps of `trace` (times of the logger) with the networks of a
 * session or capture falling asleep and waking. Returns 0 (see result->state)
 * or a negative errno with err set. */
int nod_current_offset_find(struct nod_clock_offset *result, const char *session,
			    const struct nod_current_trace *trace, struct nod_error *err);

#endif
