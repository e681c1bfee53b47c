/* SPDX-License-Identifier: MIT */
/* --locked TIME, which means the same in every command. */
#ifndef NOD_LOCK_OPTION_H
#define NOD_LOCK_OPTION_H

#include "timestamp.h"

/* Reads when the car was locked, for a recording from `start` to `end`
 * (NOD_TIME_NONE: not known yet): any
 * form of when.h, and "+12 min" counts from the start. A lock more than a day
 * before the start is refused: what was not recorded says nothing, and a wrong
 * hour or day would. Returns an exit status, after saying what is wrong with `option`. */
int nod_lock_parse(nod_time *lock, const char *option, const char *text, nod_time start,
		   nod_time end);

#endif
