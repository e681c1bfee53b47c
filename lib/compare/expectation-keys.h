/* SPDX-License-Identifier: MIT */
/* The keys of an expectation. Used by expectation*.c only. */
#ifndef NOD_EXPECTATION_KEYS_H
#define NOD_EXPECTATION_KEYS_H

#include "expectation.h"

/* Reads the value of a demand whose key, object and text are set. Returns 0 or
 * -EINVAL with err saying what was expected (without a place). */
typedef int nod_demand_read(struct nod_demand *demand, struct nod_error *err);

struct nod_demand_rule {
	const char *name;
	bool object;   /* "wakes body": a word follows */
	bool repeated; /* may stand more than once whatever the bound */
	nod_demand_read *read;
};

const struct nod_demand_rule *nod_demand_rule(enum nod_demand_key key);

/* "none named": nobody. */
#define NOD_NONE_NAMED "none named"

/* Times are compared to the millisecond. */
#define NOD_EXPECTATION_TIME_NS NOD_NS_PER_MS

#endif
