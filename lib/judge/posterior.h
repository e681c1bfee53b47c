/* SPDX-License-Identifier: MIT */
/* From the scores of the hypotheses to probabilities. Internal. */
#ifndef NOD_POSTERIOR_H
#define NOD_POSTERIOR_H

#include "weighing.h"

/* A gateway is awake whenever anything is, and rarely the cause. Log-odds
 * against an ordinary module. Chosen. */
#define NOD_PRIOR_GATEWAY (-0.7)

/* Sets the probability of every hypothesis of the networks in trouble. Where a
 * gateway joins networks, one cause may explain them all: a module of one, with
 * the gateway passing its wakefulness on to the others; or two causes at once;
 * or something behind the gateway that was not recorded. 0 or -ENOMEM. */
int nod_posterior(struct nod_weighing *all, size_t count);

#endif
