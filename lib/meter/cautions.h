/* SPDX-License-Identifier: MIT */
/* The short cautions of the trade, in one place, each said once where the work
 * it belongs to is done. They never replace the vehicle maker's procedure. */
#ifndef NOD_CAUTIONS_H
#define NOD_CAUTIONS_H

#include <stdio.h>

/* The kinds of work; a caution may belong to several. */
enum nod_job {
	NOD_JOB_FUSES = 1 << 0,   /* millivolts across fuses */
	NOD_JOB_PINS = 1 << 1,    /* volts and ohms at a connector */
	NOD_JOB_BATTERY = 1 << 2, /* at the battery itself */
	NOD_JOB_CURRENT = 1 << 3, /* clamp, shunt or ammeter */
	NOD_JOB_ISOLATE = 1 << 4  /* pulling fuses, unplugging modules */
};

/* Writes those that belong to any of the jobs, one paragraph each. */
void nod_cautions_print(FILE *out, unsigned jobs);

#endif
