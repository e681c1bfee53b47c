/* SPDX-License-Identifier: MIT */
/* The journal subjects that have a form of their own: see journal.h. */
#ifndef NOD_MARK_FORMS_H
#define NOD_MARK_FORMS_H

#include "journal.h"
#include "source.h"

/* "IFACE LENGTH" of a gap: the interface's index (NOD_ALL_INTERFACES for
 * "all") and how long nobody listened. Returns 0, -EINVAL for another form or
 * -ENOENT for an interface that is not in the table. */
int nod_mark_gap(const struct nod_mark *mark, const struct nod_interfaces *interfaces,
		 uint8_t *interface, nod_duration *length);

/* The interface of "not listening IFACE", as above. */
int nod_mark_deaf(const struct nod_mark *mark, const struct nod_interfaces *interfaces,
		  uint8_t *interface);

/* "+3600 s": new clock minus old. Returns 0 or -EINVAL ("unknown" too). */
int nod_mark_clock_step(const struct nod_mark *mark, nod_duration *step);

#endif
