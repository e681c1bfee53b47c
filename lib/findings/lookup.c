/* SPDX-License-Identifier: MIT */
#include "lookup.h"

#include <strings.h>

/* idents are in the order of network, then ID. */
const struct nod_ident_finding *nod_lookup_ident(const struct nod_findings *f, int network,
						 uint32_t id)
{
	size_t low = 0, high = f->ident_count;

	while (low < high) {
		size_t middle = (low + high) / 2;
		const struct nod_ident_finding *i = &f->idents[middle];
		if (i->network == network && i->id == id)
			return i;
		if (i->network < network || (i->network == network && i->id < id))
			low = middle + 1;
		else
			high = middle;
	}
	return NULL;
}

int nod_lookup_network(const struct nod_findings *f, const char *name)
{
	for (size_t i = 0; i < f->network_count; i++)
		if (!strcasecmp(f->networks[i].name, name))
			return (int)i;
	return NOD_NONE;
}
