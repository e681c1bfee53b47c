/* How far apart things that happen again and again are. Not installed. */
#ifndef NOD_INTERVALS_H
#define NOD_INTERVALS_H

#include "findings.h"

/* Times that follow each other, added up; begin with NOD_INTERVALS_NONE. */
struct nod_intervals {
	nod_time first, last; /* NONE: there was none yet */
	size_t count;	      /* of the intervals between them */
	nod_duration longest;
	double sum, squares; /* of the intervals, s and s^2 */
};
#define NOD_INTERVALS_NONE ((struct nod_intervals){.first = NOD_TIME_NONE, .last = NOD_TIME_NONE})

/* Times come in order. */
void nod_intervals_add(struct nod_intervals *intervals, nod_time time);

/* Between the wake-ups before `until` that nothing in the journal explains: of all
 * networks (NOD_NONE), or those that one network began. */
struct nod_intervals nod_intervals_of_wakes(const struct nod_findings *f, int network,
					    nod_time until);

#endif
