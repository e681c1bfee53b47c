/* SPDX-License-Identifier: MIT */
/* Captures named on a command line, as one source. */
#ifndef NOD_CAPTURES_H
#define NOD_CAPTURES_H

#include <stdbool.h>

#include "source.h"

/* Opens them, merged by time when there are several. "-" may come once. On
 * failure says why on stderr and returns NULL. `names` must outlive it. */
struct nod_source *nod_captures_open(char **paths, size_t count, struct nod_interfaces *names);

/* Tells on stderr what could not be read: the first lines one by one, then
 * how many more there were. Starts as all zero. */
struct nod_defect_report {
	unsigned long told, untold;
};
void nod_defect_tell(struct nod_defect_report *report, const struct nod_event *defect);
void nod_defect_sum_up(const struct nod_defect_report *report);

#endif
