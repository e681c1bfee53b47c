/* SPDX-License-Identifier: MIT */
/* What an isolation shows of one message: the one model of it, for judging (did it go off,
 * and what went off with it?) and for learning (does it hang on what was isolated?).
 *
 * Only time in which its network was awake counts: with the network asleep everybody is
 * silent. The hand is near the mark, not at it. A few frames are missed by chance. Not
 * installed. */
#ifndef NOD_ISOLATION_H
#define NOD_ISOLATION_H

#include "findings.h"

/* The hand was at the fuse up to so long before or after the mark. Chosen: one walks from the
 * fuse box to the keyboard, or says "now" and pulls. Learning takes it, since each message
 * dates the hand anew; what the networks do is held against the shorter one. */
#define NOD_HAND_NS (10 * NOD_NS_PER_S)
#define NOD_HAND_USUAL_NS (5 * NOD_NS_PER_S)

/* Of the frames that would have come, fewer than this means that it was off, more than that
 * that it was not. Chosen. */
#define NOD_OFF_SHARE 0.2
#define NOD_ON_SHARE 0.5

/* Missing fewer frames says nothing: so many are missed in a clean stop of a network, too,
 * when its members stop one after the other. Where one isolation has to say it alone, more
 * are asked for. Chosen. */
#define NOD_MISSED_MIN 3
#define NOD_MISSED_ALONE 5

enum nod_presence { NOD_PRESENCE_UNKNOWN, NOD_PRESENCE_OFF, NOD_PRESENCE_ON };

/* By how many frames were due while it was isolated and the network awake, and how many
 * were heard. UNKNOWN below `least` due ones, and between the shares. */
enum nod_presence nod_presence_of(double due, double heard, double least);

/* How long the network was awake in [from, to], ns. */
int64_t nod_network_awake(const struct nod_network_finding *n, int64_t from, int64_t to);

/* The chance that so many periods of a message are missed though it is still there, when
 * `long_ones` of its `intervals` were longer than usual: Laplace's rule for the first, and
 * 1/2 for each further one (random arrivals would give e^-1). */
double nod_missed_by_chance(double missed, uint64_t long_ones, uint64_t intervals);

#endif
