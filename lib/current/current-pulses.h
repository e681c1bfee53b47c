/* SPDX-License-Identifier: MIT */
/* Pulses of a current trace that belong together: alike in height and length,
 * and whether they come at a period. */
#ifndef NOD_CURRENT_PULSES_H
#define NOD_CURRENT_PULSES_H

#include "current-trace.h"

#define NOD_PULSE_GROUPS 16 /* kinds kept apart; more is no pattern. Chosen. */

/* What a telematics unit that reports draws. Published: a 2001 workshop
 * manual, battery drain test, step 17.3: "80-240 mA for about 45 s every 9-10
 * min is normal". The windows are a little wider, for clamp error and other
 * makes (chosen). */
#define NOD_TELEMETRY_LOW_UA 60000.0
#define NOD_TELEMETRY_HIGH_UA 300000.0
#define NOD_TELEMETRY_SHORT_S 20
#define NOD_TELEMETRY_LONG_S 90
#define NOD_TELEMETRY_OFTEN_S (8 * 60)
#define NOD_TELEMETRY_SELDOM_S (12 * 60)

/* Sorts the pulses that begin at or after `since` into at most
 * NOD_PULSE_GROUPS groups, largest average first, and sets pulse->group.
 * `measured_s` > 0 is the time the averages refer to, `resolution` the length
 * of a cell (durations are not known better). Dips stay without a group.
 * Returns the number of groups, or -ENOMEM. */
int nod_pulses_group(struct nod_current_pulse_group groups[NOD_PULSE_GROUPS],
		     struct nod_current_pulse *pulses, size_t count, nod_time since,
		     double measured_s, nod_duration resolution);

#endif
