/* SPDX-License-Identifier: MIT */
/* A recording that could hardly be read. */
#ifndef NOD_UNREADABLE_H
#define NOD_UNREADABLE_H

#include "analysis.h"

/* When more lines could not be read than could, that comes first in the sentence and is what to
 * look at next: what else is said is said of little. The last step of an analysis. */
void nod_analysis_say_unreadable(struct nod_analysis *a);

#endif
