/* SPDX-License-Identifier: MIT */
/* The worth of an isolation. Internal; measured against the best there is by the
 * benchmark `policy`. */
#ifndef NOD_NEXT_TEST_H
#define NOD_NEXT_TEST_H

/* The information of a test of which `blamed` is how likely the cause is among those it
 * concerns, bits; 0 for 0 and 1. */
double nod_test_information(double blamed);

/* What is gained a minute: the higher, the sooner it is proposed. information: expected, bits;
 * hit: 0..1, that the cause is taken off; minutes > 0. */
double nod_test_value(double information, double hit, double minutes);

#endif
