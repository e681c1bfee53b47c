/* SPDX-License-Identifier: MIT */
/* What a current trace shows, for people and for programs. */
#ifndef NOD_CURRENT_REPORT_H
#define NOD_CURRENT_REPORT_H

#include <jansson.h>
#include <stdio.h>

#include "current-trace.h"

/* The answer first, then pulses, levels and steps, then what limits it; 80
 * columns. Times are told since findings->since; `locked` says whether that is
 * when the car was locked, or only when the recording began. */
void nod_current_report_print(FILE *out, const struct nod_current_findings *findings, bool locked);

/* The same as an object (a new reference), NULL when memory ran out. Currents
 * in milliamps, charge in ampere hours, times in seconds since `since`, which
 * is a text of UNIX seconds. Always complete, unlike the text. */
json_t *nod_current_report_json(const struct nod_current_findings *findings, bool locked);

/* One sentence on the current at rest, for other reports too. */
void nod_current_rest_sentence(char *buf, size_t size, const struct nod_current_findings *findings);

/* One sentence on a group of pulses. */
void nod_current_pulses_sentence(char *buf, size_t size,
				 const struct nod_current_pulse_group *group);

#endif
