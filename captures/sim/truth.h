/* SPDX-License-Identifier: MIT */
/* What really happened in a simulated session. */
#ifndef SIM_TRUTH_H
#define SIM_TRUTH_H

#include <stdio.h>

#include "generator.h"
#include "sim.h"

/* Fills in the truth from what the simulation did. */
void sim_truth_tell(struct sim *sim, struct nod_truth *truth);

/* "key: value" lines, one fact each. Returns 0 or a negative errno. */
int sim_truth_write(const struct nod_truth *truth, FILE *out);

#endif
