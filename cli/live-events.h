/* SPDX-License-Identifier: MIT */
/* What happened between two views of nodoffd, one thing after the other: for pipes, logs and
 * programs. */
#ifndef NOD_LIVE_EVENTS_H
#define NOD_LIVE_EVENTS_H

#include <jansson.h>
#include <stdbool.h>
#include <stdio.h>

/* Writes a line for each thing that changed from one view (NULL: nothing known) to the next:
 * taps, journal, wake-ups, networks, deadlines, questions, verdict. as_json: an object a line,
 * {"time_ns", "what", "about", "text"}. In a stated order, nothing that goes on by itself
 * (clocks, loads, counts). Returns how many. */
int nod_live_events_print(FILE *out, const json_t *old, const json_t *view, bool as_json);

#endif
