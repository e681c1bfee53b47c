/* SPDX-License-Identifier: MIT */
/* How likely something was anyway: the one standard by which isolations, wakers,
 * repaired cars and lessons about the map are called proved. Pure functions; times in
 * seconds, or any other unit, the same in one call. */
#ifndef NOD_CHANCE_H
#define NOD_CHANCE_H

/* Proved: seen although it was less likely than this if nothing had been done. The usual
 * level of a statistical test. */
#define NOD_PROOF_CHANCE 0.05

/* A sleep in one piece, listened to without loss, that is no pause of something that goes
 * on again: more than twice what a car takes to settle on most networks. Common practice, no
 * source. */
#define NOD_PROOF_SLEEP_S 600

/* The chance that something which came n times in a time T does not come in a time t,
 * though nothing has changed: (T / (T + t))^n. The rate is only about known from n events,
 * and this is the average over what it may be (a gamma posterior with the prior 1/rate:
 * the Lomax distribution). 1 when n, T or t is not above 0. */
double nod_chance_none(double n, double watched, double silent);

/* The chance that a state which has lasted so long, and could have ended at any moment,
 * ends within the next t: 1 - nod_chance_none(1, lasted, t). 1 when it has not lasted. */
double nod_chance_ends(double lasted, double within);

/* The silence after which nod_chance_none() is NOD_PROOF_CHANCE. */
double nod_chance_silence(double n, double watched);

/* The chance of at most n2 of n1 + n2 events falling into t2 of t1 + t2, when
 * they come at one rate in both. */
double nod_chance_fewer(unsigned n1, double t1, unsigned n2, double t2);

#endif
