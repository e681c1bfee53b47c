/* SPDX-License-Identifier: MIT */
/* Finding things in findings. */
#ifndef NOD_LOOKUP_H
#define NOD_LOOKUP_H

#include "findings.h"

/* A message by network (index) and ID; NULL when there is none. */
const struct nod_ident_finding *nod_lookup_ident(const struct nod_findings *f, int network,
						 uint32_t id);

/* A network by name, without case; NOD_NONE when there is none. */
int nod_lookup_network(const struct nod_findings *f, const char *name);

#endif
