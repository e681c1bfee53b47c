/* SPDX-License-Identifier: MIT */
/* A comparison under way. Used by expectation*.c only. */
#ifndef NOD_EXPECTATION_COMPARE_H
#define NOD_EXPECTATION_COMPARE_H

#include "expectation-keys.h"

struct nod_comparison {
	const struct nod_expectation *x;
	const struct nod_findings *f;
	struct nod_differences *d;
};

/* Adds a difference; `found` is the value that would meet the demand, "" when
 * there is none; `remark` is said behind it. */
void nod_comparison_differ(struct nod_comparison *c, const struct nod_demand *demand,
			   const char *found, const char *remark);

/* Differs unless the texts are the same. */
void nod_comparison_text(struct nod_comparison *c, const struct nod_demand *demand,
			 const char *found);

/* A demand on a network, in expectation-network.c. */
void nod_comparison_network(struct nod_comparison *c, const struct nod_demand *demand);

/* True when a number meets the bound and value of a demand. */
bool nod_demand_within(const struct nod_demand *demand, int64_t found);

#endif
