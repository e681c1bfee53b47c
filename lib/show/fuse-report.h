/* SPDX-License-Identifier: MIT */
/* A round of fuse readings, for people and for programs. */
#ifndef NOD_FUSE_REPORT_H
#define NOD_FUSE_REPORT_H

#include <jansson.h>
#include <stdio.h>

#include "fuse-survey.h"

/* The answer first, then the fuses, what they share, the sum against the clamp,
 * and what limits the method; 80 columns. `vehicle` is the one the survey was
 * made with. */
void nod_fuse_survey_print(FILE *out, const struct nod_fuse_survey *survey,
			   const struct nod_vehicle *vehicle);

/* The same as an object (a new reference), NULL when memory ran out.
 * Millivolts, milliamps, milliohms. */
json_t *nod_fuse_survey_json(const struct nod_fuse_survey *survey,
			     const struct nod_vehicle *vehicle);

#endif
