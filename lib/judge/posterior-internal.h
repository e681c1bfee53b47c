/* SPDX-License-Identifier: MIT */
/* Shared by the files that go from scores to probabilities. */
#ifndef NOD_POSTERIOR_INTERNAL_H
#define NOD_POSTERIOR_INTERNAL_H

#include "posterior.h"

/* The weight of this kind of evidence, 0 without any. */
double nod_posterior_evidence(const struct nod_hypothesis *h, enum nod_evidence kind);

/* What a hypothesis has by evidence that is the car's, not the network's. */
double nod_posterior_of_car(const struct nod_hypothesis *h);

/* A sender that is no gateway. */
bool nod_posterior_is_own(const struct nod_weighing *w, const struct nod_hypothesis *h);

/* Who is in the set "all that still request hold it together". */
bool nod_posterior_in_set(const struct nod_weighing *w, const struct nod_hypothesis *h);

/* Score of "wakefulness was only passed on to it". */
double nod_posterior_forward(const struct nod_weighing *w);

/* What speaks for modules of this network having been stirred by somebody at the car. */
double nod_posterior_stirred(const struct nod_weighing *w);

/* Score of "somebody at the car made so many wake-ups". */
double nod_posterior_person(const struct nod_weighing *w, unsigned wakes);

/* Score of "a line woke all, and who was first is merely fast". */
double nod_posterior_line(const struct nod_weighing *w);

/* The probability that one of its unexplained wake-ups came after a sleep, by how the silences
 * before them were; 1 when nothing makes that doubtful. */
double nod_posterior_woken(const struct nod_weighing *w);

/* log(exp(a) + exp(b)). */
double nod_log_add(double a, double b);

/* Score of the set that holds together; -INFINITY: there is none. */
double nod_posterior_set(const struct nod_weighing *w);

#endif
