/* SPDX-License-Identifier: MIT */
/* The battery current of a session on disk: one sample a line,
 *
 *     (1700000000.000000) 0.430000 A
 *
 * the time in the form and on the clock of the frames beside it, the value in
 * amperes with six decimals, positive when the car takes current from the
 * battery. Hand-made files may use any unit of current ("430 mA"). Lines
 * starting with '#' and empty lines are comments; "# clock-step: -2 s" says that what
 * follows is stamped by the clock as it was set then. */
#ifndef NOD_CURRENT_LOG_H
#define NOD_CURRENT_LOG_H

#include <stddef.h>
#include <stdint.h>

#include "error.h"
#include "timestamp.h"

/* Room for any line, with the terminating zero. */
#define NOD_CURRENT_LINE (2 * NOD_TIME_TEXT + 8)

/* No sample is beyond this, either way, in microamperes. Chosen: a million amperes
 * is no battery, and every line that is written can be read again. */
#define NOD_CURRENT_MOST INT64_C(1000000000000)

#define NOD_CURRENT_STEP "# clock-step: "

/* Parses one line (terminated, without its newline). Returns 1 for a sample, 0
 * for a comment or an empty line, -EINVAL with *column (from 1) and err. */
int nod_current_parse(nod_time *time, int64_t *microamps, const char *line, unsigned *column,
		      struct nod_error *err);

/* Writes the line with its newline. Returns its length. */
int nod_current_print(char buf[NOD_CURRENT_LINE], nod_time time, int64_t microamps);

#endif
