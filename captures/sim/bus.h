/* SPDX-License-Identifier: MIT */
/* Frames on a simulated network: when they get through, whom they wake. */
#ifndef SIM_BUS_H
#define SIM_BUS_H

#include "sim.h"

/* Longer silence than this ends an awake span (in truth.txt) and lets units
 * without network management be woken by traffic again. Longer than any
 * period that the generator uses. */
#define SIM_SPAN_QUIET (2500 * SIM_MS)

#define SIM_NOBODY (-1)

/* Sends a frame; `node` is SIM_NOBODY for a tester. Wakes who sleeps. */
void sim_bus_send(struct sim *sim, int network, int node, uint32_t id, const uint8_t *data,
		  unsigned length);

#endif
