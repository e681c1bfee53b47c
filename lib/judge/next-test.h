/* SPDX-License-Identifier: MIT */
/* The worth of an isolation. Internal; measured against the best there is by the
 * benchmark `policy`. */
#ifndef NOD_NEXT_TEST_H
#define NOD_NEXT_TEST_H

#include <stdbool.h>

struct nod_module;

/* The map says that it must not be isolated by hand: airbag, high voltage. */
bool nod_test_is_forbidden(const struct nod_module *module);

/* The information of a test of which `blamed` is how likely the cause is among those it
 * concerns, bits; 0 for 0 and 1. */
double nod_test_information(double blamed);

/* What is gained a minute: the higher, the sooner it is proposed. information: expected, bits;
 * hit: 0..1, that the cause is taken off; minutes > 0. */
double nod_test_value(double information, double hit, double minutes);

#endif
