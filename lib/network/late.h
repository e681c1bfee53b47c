/* When being awake was late: between a settle deadline and the next thing that
 * started the settle clock anew. Findings carry the last deadline only; what was
 * before follows from the journal. */
#ifndef NOD_LATE_H
#define NOD_LATE_H

#include "findings.h"

struct nod_late {
	nod_time from, to; /* from: the deadline; to: the next disturbance, or the end */
};

/* The stretches of one network in which being awake is a finding, in time order.
 * *count of them; NULL with count 0 when there are none, or memory ran out
 * (then errno is ENOMEM). The caller frees them. */
struct nod_late *nod_late_of(const struct nod_findings *f, const struct nod_network_finding *n,
			     size_t *count);

#endif
