/* SPDX-License-Identifier: MIT */
/* How far two recordings hold the messages of one kind of car. */
#ifndef NOD_LIKENESS_H
#define NOD_LIKENESS_H

#include "car.h"

/* Shared messages by all messages, 0..1 (the index of Jaccard, with weights): of each network of
 * the recording that has fewer of them and the most like one of the other, whatever they are
 * called. A network that one of them did not tap says nothing. A message at another pace counts
 * half; one that is not cyclic a quarter, as it may just not have come. -1: too few messages to
 * tell. */
double nod_car_likeness(const struct nod_car *a, const struct nod_car *b);

#endif
